import { withControls } from './controlCharacters.ts';

/** A stretch of plain text, or what stands in braces. */
export type Piece = { readonly kind: 'text'; readonly text: string } | { readonly kind: 'braces'; readonly inside: string };

export type PieceProblem = { readonly code: 'brokenBraces'; readonly text: string } | { readonly code: 'notAscii'; readonly text: string };

/** Cuts `M {x},{y}<CR>` into text and braces; {{ and }} are braces themselves. Each way it fails is one problem. */
export function piecesOf(text: string): readonly Piece[] | PieceProblem {
  const plain = withControls(text);
  if (/[^\x00-\x7f]/.test(plain)) return { code: 'notAscii', text };
  const pieces: Piece[] = [];
  let run = '';
  const endRun = (): void => {
    if (run !== '') pieces.push({ kind: 'text', text: run });
    run = '';
  };
  for (let at = 0; at < plain.length; at++) {
    const [here, next] = [plain.charAt(at), plain.charAt(at + 1)];
    if ((here === '{' || here === '}') && next === here) {
      run += here;
      at++;
    } else if (here === '{') {
      const end = plain.indexOf('}', at);
      const inside = end < 0 ? '{' : plain.slice(at + 1, end);
      if (inside.includes('{')) return { code: 'brokenBraces', text };
      endRun();
      pieces.push({ kind: 'braces', inside: inside.trim() });
      at = end;
    } else if (here === '}') return { code: 'brokenBraces', text };
    else run += here;
  }
  endRun();
  return pieces;
}

export function isProblem(read: readonly Piece[] | PieceProblem): read is PieceProblem {
  return !Array.isArray(read);
}
