import { isProblem, piecesOf, type Piece, type PieceProblem } from './pieces.ts';

/** What is sent, with places for values. */
export type Template = readonly Piece[];

export type TemplateProblem = PieceProblem | { readonly code: 'unknownPlaceholder'; readonly name: string; readonly known: readonly string[] };

export type TemplateResult = { readonly template: Template } | { readonly problem: TemplateProblem };

/** Reads `M {x} {y}`; `known` are the names that may stand in braces. */
export function readTemplate(text: string, known: readonly string[]): TemplateResult {
  const pieces = piecesOf(text);
  if (isProblem(pieces)) return { problem: pieces };
  const stranger = pieces.find((piece) => piece.kind === 'braces' && !known.includes(piece.inside));
  if (stranger?.kind === 'braces') return { problem: { code: 'unknownPlaceholder', name: stranger.inside, known } };
  return { template: pieces };
}

/** The names of the values that a template takes. */
export function placeholdersOf(template: Template): readonly string[] {
  return template.flatMap((piece) => (piece.kind === 'braces' ? [piece.inside] : []));
}

/** The text to send. Throws RangeError for a value that is missing: callers know which ones a template takes. */
export function fill(template: Template, values: Readonly<Record<string, string>>): string {
  return template
    .map((piece) => {
      if (piece.kind === 'text') return piece.text;
      const value = values[piece.inside];
      if (value === undefined) throw new RangeError(`no value for {${piece.inside}}`);
      return value;
    })
    .join('');
}
