import { isAlias, isCollection, isMap, isScalar, LineCounter, parseDocument, visit } from 'yaml';
import type { Document } from 'yaml';
import type { ConfigProblem } from '../errors/index.ts';
import { tooMuchYaml } from './yamlBounds.ts';

/** Larger files are not configuration: nobody writes a megabyte of it. */
export const maxFileBytes = 1_048_576;
/** How often one anchor may be used; it bounds how large a small file can unfold. */
const maxAliasCount = 100;

export type Path = readonly (string | number)[];

/** A file's content as plain data, and the way back from a place in the data to its line. */
export interface YamlSource {
  readonly data: Readonly<Record<string, unknown>>;
  /** Line, from 1, of the key at this path; of the nearest thing above it when there is none. */
  lineOf(path: Path): number;
}

export type YamlResult = { readonly ok: true; readonly source: YamlSource } | { readonly ok: false; readonly problems: readonly ConfigProblem[] };

type Found = { readonly node: unknown; readonly offset: number | undefined };

function offsetOf(node: unknown): number | undefined {
  return isScalar(node) || isCollection(node) || isAlias(node) ? node.range?.[0] : undefined;
}

function child(document: Document, parent: unknown, key: string | number): Found | undefined {
  const node = isAlias(parent) ? parent.resolve(document) : parent;
  if (!isCollection(node)) return undefined;
  if (!isMap(node)) {
    const item: unknown = node.items[Number(key)];
    return item === undefined ? undefined : { node: item, offset: offsetOf(item) };
  }
  const pair = node.items.find((item) => isScalar(item.key) && String(item.key.value) === String(key));
  return pair && { node: pair.value, offset: offsetOf(pair.key) };
}

function lineFinder(document: Document, lines: LineCounter): (path: Path) => number {
  return (path) => {
    let at: Found = { node: document.contents, offset: offsetOf(document.contents) };
    for (const key of path) {
      const next = child(document, at.node, key);
      if (!next) break;
      at = { node: next.node, offset: next.offset ?? at.offset };
    }
    return Math.max(1, lines.linePos(at.offset ?? 0).line);
  };
}

/** YAML's own complaints in plain words; others keep the parser's sentence. */
const WORDS: Readonly<Record<string, string>> = {
  TAB_AS_INDENT: 'a tab is used to indent; use spaces',
  MULTIPLE_DOCS: 'a second document begins here (---); one file holds one',
  BAD_INDENT: 'the indentation does not fit the lines above',
  BAD_ALIAS: 'the alias (*) has no name or stands where it cannot',
  TAG_RESOLVE_FAILED: 'a tag (!) is not understood here; take it out',
};

function syntaxProblems(document: Document, lines: LineCounter): ConfigProblem[] {
  return [...document.errors, ...document.warnings].map((complaint) => ({
    line: Math.max(1, lines.linePos(complaint.pos[0]).line),
    key: '',
    message: WORDS[complaint.code] ?? `cannot be read as YAML: ${complaint.message.split('\n')[0] ?? complaint.code}`,
  }));
}

/**
 * Keys that would be passed over in silence: one of two that are the same to JavaScript, the name that it keeps for itself, and what is no name. The parser
 * looks for the first too, but compares each key with each, which a large file makes endless.
 */
function swallowedKeys(document: Document, lines: LineCounter): ConfigProblem[] {
  const found: ConfigProblem[] = [];
  visit(document, {
    Map(_at, { items }) {
      const seen = new Set<string>();
      for (const { key } of items) {
        if (isCollection(key) || isAlias(key)) found.push({ line: lines.linePos(key.range?.[0] ?? 0).line, key: '', message: 'a key must be a name, not a list, a mapping or an alias' });
        if (!isScalar(key)) continue;
        const name = String(key.value);
        const line = lines.linePos(key.range?.[0] ?? 0).line;
        if (name === '__proto__') found.push({ line, key: '', message: 'nothing can be called "__proto__"' });
        else if (seen.has(name)) found.push({ line, key: '', message: 'this key stands here twice; keep one' });
        seen.add(name);
      }
    },
  });
  return found;
}

function refused(message: string, line = 1): YamlResult {
  return { ok: false, problems: [{ line, key: '', message }] };
}

function unfold(document: Document, lines: LineCounter): YamlResult {
  const data: unknown = document.toJS({ maxAliasCount });
  if (data === null) return refused('the file is empty');
  if (typeof data !== 'object' || Array.isArray(data)) return refused('the file must be a mapping: lines of `key: value`');
  return { ok: true, source: { data: Object.fromEntries(Object.entries(data)), lineOf: lineFinder(document, lines) } };
}

/**
 * Reads one YAML file (version 1.2, core schema) as a mapping. Never throws: a file that is too large, not YAML, not a mapping,
 * with keys twice, nested too deeply or with aliases that unfold without end comes back as problems with their lines.
 */
export function readYaml(text: string): YamlResult {
  if (text.length > maxFileBytes) return refused(`the file is larger than ${maxFileBytes} bytes, which is the most`);
  const tooMuch = tooMuchYaml(text);
  if (tooMuch !== undefined) return refused(tooMuch);
  const lines = new LineCounter();
  try {
    const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: false, version: '1.2', schema: 'core' });
    const problems = [...syntaxProblems(document, lines), ...swallowedKeys(document, lines)];
    return problems.length > 0 ? { ok: false, problems } : unfold(document, lines);
  } catch (error) {
    if (error instanceof RangeError) return refused('the file is nested too deeply to be read');
    if (error instanceof ReferenceError) return refused(`aliases (*) without an anchor, or more than ${maxAliasCount} uses of one`);
    return refused(`cannot be read as YAML: ${error instanceof Error ? error.message : String(error)}`);
  }
}
