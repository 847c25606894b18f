import type { StagePoint } from '../units/index.ts';

/** What can be packed: numbers, words and yes or no, in lists and plain objects. */
type Plain = number | string | boolean | null | undefined | readonly Plain[] | { readonly [key: string]: Plain };

/** How something packed is built; the same object for all that is built alike, of which there are few. */
type Shape =
  | { readonly kind: 'number' }
  | { readonly kind: 'text' }
  | { readonly kind: 'constant'; readonly value: boolean | null | undefined }
  /** Of an outline there is most, so it has a quick way of its own. Its length stands before it, as with every list. */
  | { readonly kind: 'outline' }
  /** A list of alike items. */
  | { readonly kind: 'list'; readonly item: Shape }
  | { readonly kind: 'mixed'; readonly items: readonly Shape[] }
  | { readonly kind: 'object'; readonly entries: readonly (readonly [key: string, shape: Shape])[] };

/**
 * The same value in a fifth of the memory: all its numbers in one list, as they are, to the last bit. Outlines as objects take 80 bytes a
 * corner on the heap, here 16, and a long night has millions of corners.
 */
export interface Packed<T> {
  readonly shape: Shape;
  readonly numbers: readonly number[];
  readonly texts?: readonly string[];
  /** Only for the type: what comes out. */
  readonly of?: T;
}

interface Sheet {
  readonly numbers: number[];
  readonly texts: string[];
  number: number;
  text: number;
}

const shapes = new Map<string, Shape>();
const names = new WeakMap<Shape, string>();
/** Shapes are few; were they not, they must not fill the memory that packing saves. */
const mostShapes = 10_000;

/** The one shape of this name; made when it is new. */
function shapeOf(name: string, make: () => Shape): Shape {
  const known = shapes.get(name);
  if (known) return known;
  if (shapes.size >= mostShapes) shapes.clear();
  const made = make();
  shapes.set(name, made);
  names.set(made, name);
  return made;
}

const nameOf = (shape: Shape): string => names.get(shape) ?? '';
const number = shapeOf('n', () => ({ kind: 'number' }));
const text = shapeOf('t', () => ({ kind: 'text' }));
const outline = shapeOf('o', () => ({ kind: 'outline' }));

/** Packs a value of plain data; functions, symbols and objects of classes are not meant for it. */
export function pack<T>(value: T): Packed<T> {
  const sheet: Sheet = { numbers: [], texts: [], number: 0, text: 0 };
  const shape = write(value as Plain, sheet);
  // A copy is as long as what is in it; a list that has grown keeps room for more.
  return { shape, numbers: sheet.numbers.slice(), ...(sheet.texts.length > 0 ? { texts: sheet.texts.slice() } : {}) };
}

/** What was packed, as it was, the order of its keys included. */
export function unpack<T>({ shape, numbers, texts = [] }: Packed<T>): T {
  return read(shape, { numbers: numbers as number[], texts: texts as string[], number: 0, text: 0 }) as T;
}

function write(value: Plain, sheet: Sheet): Shape {
  if (typeof value === 'number') {
    sheet.numbers.push(value);
    return number;
  }
  if (typeof value === 'string') {
    sheet.texts.push(value);
    return text;
  }
  if (value === null || typeof value !== 'object') return shapeOf(String(value), () => ({ kind: 'constant', value }));
  return isList(value) ? writeList(value, sheet) : writeObject(value, sheet);
}

const isList = (value: object): value is readonly Plain[] => Array.isArray(value);

function writeList(list: readonly Plain[], sheet: Sheet): Shape {
  const at = sheet.numbers.push(list.length) - 1;
  if (list.length > 0 && writeOutline(list, sheet.numbers)) return outline;
  const items = list.map((item) => write(item, sheet));
  const [first = number] = items;
  if (items.every((item) => item === first)) return shapeOf(`[${nameOf(first)}]`, () => ({ kind: 'list', item: first }));
  sheet.numbers.splice(at, 1);
  return shapeOf(`(${items.map(nameOf).join()})`, () => ({ kind: 'mixed', items }));
}

/** False, and nothing written, where an item is no point. */
function writeOutline(list: readonly Plain[], numbers: number[]): boolean {
  const before = numbers.length;
  for (const item of list) {
    if (!isPoint(item)) {
      numbers.length = before;
      return false;
    }
    numbers.push(item.xUm, item.yUm);
  }
  return true;
}

function isPoint(item: Plain): item is Plain & StagePoint {
  if (typeof item !== 'object' || item === null || !('xUm' in item) || !('yUm' in item)) return false;
  const keys = Object.keys(item);
  return keys.length === 2 && keys[0] === 'xUm' && typeof item.xUm === 'number' && typeof item.yUm === 'number';
}

function writeObject(value: { readonly [key: string]: Plain }, sheet: Sheet): Shape {
  const entries = Object.entries(value).map(([key, each]) => [key, write(each, sheet)] as const);
  return shapeOf(`{${entries.map(([key, shape]) => `${JSON.stringify(key)}:${nameOf(shape)}`).join()}}`, () => ({ kind: 'object', entries }));
}

function read(shape: Shape, sheet: Sheet): Plain {
  switch (shape.kind) {
    case 'number':
      return sheet.numbers[sheet.number++];
    case 'text':
      return sheet.texts[sheet.text++];
    case 'constant':
      return shape.value;
    case 'outline':
      return Array.from({ length: sheet.numbers[sheet.number++] ?? 0 }, () => ({ xUm: sheet.numbers[sheet.number++], yUm: sheet.numbers[sheet.number++] }));
    case 'list':
      return Array.from({ length: sheet.numbers[sheet.number++] ?? 0 }, () => read(shape.item, sheet));
    case 'mixed':
      return shape.items.map((item) => read(item, sheet));
    case 'object':
      return Object.fromEntries(shape.entries.map(([key, each]) => [key, read(each, sheet)]));
  }
}
