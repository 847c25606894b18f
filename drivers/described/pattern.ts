import { isProblem, piecesOf, type Piece, type PieceProblem } from './pieces.ts';

// Patterns of replies: plain text with fields, matched from the first character of a line to its last, in time proportional to its length.
// Arbitrary regular expressions are kept out on purpose: a clumsy one can hang, or match what it should not.

export const fieldTypes = ['number', 'integer', 'word', 'text'] as const;
export type FieldType = (typeof fieldTypes)[number];

interface Field {
  readonly kind: 'field';
  readonly name: string;
  readonly type: FieldType;
}

type Part = { readonly kind: 'text'; readonly text: string } | Field;
export type Pattern = readonly Part[];

export type PatternProblem =
  | PieceProblem
  | { readonly code: 'unknownField'; readonly name: string; readonly known: readonly string[] }
  | { readonly code: 'unknownType'; readonly name: string; readonly type: string }
  | { readonly code: 'fieldTwice'; readonly name: string }
  /** Nothing stands between it and the next field, or what follows could belong to it. */
  | { readonly code: 'endlessField'; readonly name: string };

export type PatternResult = { readonly pattern: Pattern } | { readonly problem: PatternProblem };

/** What a line said, by the names of the fields. A field named `_` is passed over. */
export type Fields = ReadonlyMap<string, number | string>;

/** Sticky, of bounded length, and without a choice that could be tried again. */
const SHAPES: Readonly<Record<Exclude<FieldType, 'text'>, RegExp>> = {
  number: /[+-]?(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})(?:[eE][+-]?\d{1,3})?/y,
  integer: /[+-]?\d{1,15}/y,
  word: /[A-Za-z0-9_.+-]{1,40}/y,
};

/** Characters that would go on with a field of this type, so that it could not be told where it ends. */
const GOES_ON: Readonly<Record<Exclude<FieldType, 'text'>, RegExp>> = { number: /^[\d.eE]/, integer: /^\d/, word: /^[A-Za-z0-9_.+-]/ };

/** What stands in braces: `x:number`; a name alone is a text. Names that are not in `known` are problems, unless any will do. */
function readField(inside: string, known: readonly string[] | 'any'): Field | PatternProblem {
  const [name = '', type = 'text', ...rest] = inside.split(':').map((part) => part.trim());
  const isKnown = name === '_' || (known === 'any' ? /^[A-Za-z]\w{0,39}$/.test(name) : known.includes(name));
  if (!isKnown) return { code: 'unknownField', name, known: known === 'any' ? [] : known };
  const found = fieldTypes.find((each) => each === type);
  return found && rest.length === 0 ? { kind: 'field', name, type: found } : { code: 'unknownType', name, type: [type, ...rest].join(':') };
}

function readParts(pieces: readonly Piece[], known: readonly string[] | 'any'): PatternResult {
  const pattern: Part[] = [];
  for (const piece of pieces) {
    const part = piece.kind === 'text' ? piece : readField(piece.inside, known);
    if ('code' in part) return { problem: part };
    pattern.push(part);
  }
  return { pattern };
}

function shapeProblem(pattern: Pattern): PatternProblem | undefined {
  const seen = new Set<string>();
  for (const [at, part] of pattern.entries()) {
    if (part.kind === 'text') continue;
    const next = pattern[at + 1];
    const goesOn = next?.kind === 'text' && part.type !== 'text' && GOES_ON[part.type].test(next.text);
    if (next?.kind === 'field' || goesOn) return { code: 'endlessField', name: part.name };
    if (part.name !== '_' && seen.has(part.name)) return { code: 'fieldTwice', name: part.name };
    seen.add(part.name);
  }
  return undefined;
}

/** Reads `POS {x:number} {y:number}`. `known` are the names that its fields may have, beside `_`. */
export function readPattern(text: string, known: readonly string[] | 'any'): PatternResult {
  const pieces = piecesOf(text);
  if (isProblem(pieces)) return { problem: pieces };
  const read = readParts(pieces, known);
  const problem = 'pattern' in read ? shapeProblem(read.pattern) : undefined;
  return problem ? { problem } : read;
}

export function fieldsOf(pattern: Pattern): readonly Field[] {
  return pattern.filter((part) => part.kind === 'field');
}

/** Where the text ends in the line when it stands at this place; -1 when it does not. One blank stands for one or more. */
function endOfText(text: string, line: string, from: number): number {
  let at = from;
  for (let i = 0; i < text.length; i++) {
    if (line.charAt(at) !== text.charAt(i)) return -1;
    at++;
    if (text.charAt(i) !== ' ') continue;
    while (line.charAt(at) === ' ') at++;
    while (text.charAt(i + 1) === ' ') i++;
  }
  return at;
}

/** Where a text field ends: where what follows it stands for the first time; before the end of the line, when that is the last part. */
function endOfFreeText(line: string, from: number, next: Part | undefined, isLast: boolean): number {
  if (next?.kind !== 'text') return line.length;
  for (let at = from; at <= line.length; at++) {
    const end = endOfText(next.text, line, at);
    if (end >= 0 && (!isLast || end === line.length)) return at;
  }
  return -1;
}

function endOfField(pattern: Pattern, index: number, field: Field, line: string, from: number): number {
  if (field.type === 'text') return endOfFreeText(line, from, pattern[index + 1], index + 2 === pattern.length);
  const shape = SHAPES[field.type];
  shape.lastIndex = from;
  return shape.test(line) ? shape.lastIndex : -1;
}

/** What the whole line says by this pattern; undefined when it does not fit, or a number is beyond all bounds. */
export function match(pattern: Pattern, line: string): Fields | undefined {
  const fields = new Map<string, number | string>();
  let at = 0;
  for (const [index, part] of pattern.entries()) {
    const end = part.kind === 'text' ? endOfText(part.text, line, at) : endOfField(pattern, index, part, line, at);
    if (end < 0) return undefined;
    if (part.kind === 'field') {
      const isNumber = part.type === 'number' || part.type === 'integer';
      const said = line.slice(at, end);
      if (isNumber && !Number.isFinite(Number(said))) return undefined;
      if (part.name !== '_') fields.set(part.name, isNumber ? Number(said) : said);
    }
    at = end;
  }
  return at === line.length ? fields : undefined;
}

/** The pattern as it was written, for messages. */
export function patternText(pattern: Pattern): string {
  return pattern.map((part) => (part.kind === 'text' ? part.text : `{${part.name}:${part.type}}`)).join('');
}
