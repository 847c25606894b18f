import fc from 'fast-check';
import { oddKey, oddText, oddValue } from './hostile.ts';

type Path = readonly (string | number)[];
type Entries = readonly (readonly [string, unknown])[];

const isTree = (value: unknown): value is object => value !== null && typeof value === 'object';

/** The way to every value of a document but the document itself. */
function pathsIn(value: unknown, path: Path = []): readonly Path[] {
  if (!isTree(value)) return [];
  const keys: readonly (string | number)[] = Array.isArray(value) ? value.map((_, index) => index) : Object.keys(value);
  return keys.flatMap((key) => [[...path, key], ...pathsIn(Reflect.get(value, key), [...path, key])]);
}

const acts = ['drop', 'replace', 'add', 'double', 'swap', 'rename', 'wrap'] as const;

interface TreeEdit {
  readonly act: (typeof acts)[number];
  readonly at: number;
  readonly key: string;
  readonly value: unknown;
}

/** Entries of a list or mapping after one edit at `index`. A key that stands there twice is the last one's. */
function edited(entries: Entries, index: number, { act, key, value }: TreeEdit): Entries {
  const [head, here, tail] = [entries.slice(0, index), entries[index], entries.slice(index + 1)];
  if (!here) return entries;
  const next = tail[0];
  switch (act) {
    case 'drop':
      return [...head, ...tail];
    case 'replace':
      return [...head, [here[0], value], ...tail];
    case 'add':
      return [...head, here, [key, value], ...tail];
    case 'double':
      return [...head, here, [`${here[0]} `, here[1]], ...tail];
    case 'swap':
      return next ? [...head, [here[0], next[1]], [next[0], here[1]], ...tail.slice(1)] : entries;
    case 'rename':
      return [...head, [key, here[1]], ...tail];
    case 'wrap':
      return [...head, [here[0], [here[1]]], ...tail];
  }
}

function changed(tree: unknown, [key, ...rest]: Path, edit: TreeEdit): unknown {
  if (!isTree(tree) || key === undefined) return tree;
  const isList = Array.isArray(tree);
  const entries: Entries = Object.entries(tree);
  const index = entries.findIndex(([name]) => name === String(key));
  const next: Entries = rest.length === 0 ? edited(entries, index, edit) : entries.map(([name, value]) => [name, name === String(key) ? changed(value, rest, edit) : value]);
  // Object.fromEntries makes a key of its own even of __proto__.
  return isList ? next.map(([, value]) => value) : Object.fromEntries(next);
}

function withEdit(tree: unknown, edit: TreeEdit): unknown {
  const paths = pathsIn(tree);
  const path = paths[edit.at % Math.max(1, paths.length)];
  return path ? changed(tree, path, edit) : edit.value;
}

const treeEdit: fc.Arbitrary<TreeEdit> = fc.record({ act: fc.constantFrom(...acts), at: fc.nat(5000), key: oddKey, value: oddValue });

/** A valid document with one to four things wrong in it. */
export function mutatedTree(tree: unknown): fc.Arbitrary<unknown> {
  return fc.array(treeEdit, { minLength: 1, maxLength: 4 }).map((edits) => edits.reduce(withEdit, tree));
}

interface TextEdit {
  readonly act: 'cut' | 'drop' | 'double' | 'insert' | 'over' | 'swapLines';
  readonly at: number;
  readonly length: number;
  readonly piece: string;
}

function withTextEdit(text: string, { act, at, length, piece }: TextEdit): string {
  const from = Math.floor((at / 1e6) * (text.length + 1));
  const [head, here, tail] = [text.slice(0, from), text.slice(from, from + length), text.slice(from + length)];
  switch (act) {
    case 'cut':
      return head;
    case 'drop':
      return head + tail;
    case 'double':
      return head + here + here + tail;
    case 'insert':
      return head + piece + here + tail;
    case 'over':
      return head + piece + tail;
    case 'swapLines': {
      const lines = text.split('\n');
      const n = at % Math.max(1, lines.length - 1);
      return [...lines.slice(0, n), ...lines.slice(n, n + 2).reverse(), ...lines.slice(n + 2)].join('\n');
    }
  }
}

const dressings: readonly ((text: string) => string)[] = [
  (text) => text,
  (text) => text,
  (text) => `\ufeff${text}`,
  (text) => text.replaceAll('\n', '\r\n'),
  (text) => text.replaceAll('\n', '\r'),
  (text) => text.replaceAll(' ', '\t'),
  (text) => text.replaceAll(' ', '\u00a0'),
];

/** A valid text with one to four things wrong in it: cut, doubled, swapped, with pieces that do not belong there, in other line ends. */
export function mutatedText(text: string, pieces: fc.Arbitrary<string> = oddText): fc.Arbitrary<string> {
  const edit: fc.Arbitrary<TextEdit> = fc.record({
    act: fc.constantFrom('cut', 'drop', 'double', 'insert', 'insert', 'over', 'swapLines'),
    at: fc.nat(1e6),
    length: fc.nat(40),
    piece: pieces,
  });
  return fc.tuple(fc.array(edit, { minLength: 1, maxLength: 4 }), fc.constantFrom(...dressings)).map(([edits, dress]) => dress(edits.reduce(withTextEdit, text)));
}

/** Bytes with some of them changed, cut off, doubled or put in. */
export function mutatedBytes(bytes: Uint8Array): fc.Arbitrary<Uint8Array> {
  const edit = fc.record({ act: fc.constantFrom('cut', 'drop', 'set', 'set', 'set', 'insert'), at: fc.nat(1e6), value: fc.nat(255), length: fc.nat(16) });
  return fc.array(edit, { minLength: 1, maxLength: 6 }).map((edits) =>
    edits.reduce((now, { act, at, value, length }) => {
      const from = Math.floor((at / 1e6) * (now.length + 1));
      if (act === 'cut') return now.slice(0, from);
      if (act === 'drop') return Buffer.concat([now.subarray(0, from), now.subarray(from + length)]);
      if (act === 'insert') return Buffer.concat([now.subarray(0, from), new Uint8Array(length).fill(value), now.subarray(from)]);
      return now.map((byte, index) => (index === from ? value : byte));
    }, Uint8Array.from(bytes)),
  );
}

/** Every beginning of a small text. */
export function beginningsOf(text: string): readonly string[] {
  return Array.from({ length: text.length }, (_, length) => text.slice(0, length));
}
