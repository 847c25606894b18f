import { Lexer } from 'yaml';

/**
 * Words, marks and line ends of a file. The parser takes some 50 us for each where all are wrong: this keeps it to a few seconds. 64 chips
 * with outlines of 100 corners are as much.
 */
const MOST_PIECES = 60_000;
/** Of brackets, and of list marks on one line: the parser calls itself for each. */
const DEEPEST = 100;

/** Why a text is not worth parsing as YAML, by a look at its pieces alone; `undefined` when it is. In bounded time whatever the text. */
export function tooMuchYaml(text: string): string | undefined {
  let [pieces, depth, marks] = [0, 0, 0];
  for (const piece of new Lexer().lex(text)) {
    if (++pieces > MOST_PIECES) return `the file has more than ${MOST_PIECES} words and marks, which is the most`;
    if (piece === '[' || piece === '{') depth++;
    else if (piece === ']' || piece === '}') depth = Math.max(0, depth - 1);
    if (piece === '-' || piece === '?') marks++;
    else if (piece !== ' ') marks = 0;
    if (Math.max(depth, marks) > DEEPEST) return 'the file is nested too deeply to be read';
  }
  return undefined;
}
