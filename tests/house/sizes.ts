import ts from 'typescript';
import { isCode, lineOf, parse, walk } from './sources.ts';
import type { Offence, Source } from './sources.ts';

const MAX_FILE_LINES = 400;
const MAX_FUNCTION_LINES = 50;

export interface FunctionSize {
  readonly name: string;
  readonly line: number;
  readonly lines: number;
  /** Has a name of its own: a declaration, a method, a constant. Callbacks have none. */
  readonly named: boolean;
}

export function lineCount(text: string): number {
  return text === '' ? 0 : text.replace(/\n$/, '').split('\n').length;
}

function nameOf(node: ts.SignatureDeclaration): string | undefined {
  if (ts.isConstructorDeclaration(node)) return 'constructor';
  if (node.name) return node.name.getText();
  const holder = node.parent;
  if ((ts.isVariableDeclaration(holder) || ts.isPropertyAssignment(holder) || ts.isPropertyDeclaration(holder)) && holder.initializer === node) return holder.name.getText();
  return undefined;
}

/** A callback of `describe` only groups tests: its length says nothing. */
function onlyGroups(node: ts.Node): boolean {
  return ts.isCallExpression(node.parent) && /^describe\b/.test(node.parent.expression.getText());
}

/** Every function with a body in a file, and how many lines it stands on from its first word to its closing bracket. */
export function functionsOf(source: Source): readonly FunctionSize[] {
  const tree = parse(source);
  const sizes: FunctionSize[] = [];
  walk(tree, (node) => {
    if (!ts.isFunctionLike(node) || !('body' in node) || !node.body || onlyGroups(node)) return;
    const line = lineOf(tree, node);
    const last = tree.getLineAndCharacterOfPosition(node.getEnd()).line + 1;
    const name = nameOf(node);
    sizes.push({ name: name ?? 'a callback', line, lines: last - line + 1, named: name !== undefined });
  });
  return sizes;
}

/** Files of more than 400 lines (code and style sheets). */
export function longFiles(sources: readonly Source[]): readonly Offence[] {
  const judged = sources.filter(({ path }) => isCode(path) || path.endsWith('.css'));
  return judged
    .filter(({ text }) => lineCount(text) > MAX_FILE_LINES)
    .map(({ path, text }) => ({ path, line: MAX_FILE_LINES + 1, what: `${lineCount(text)} lines, ${MAX_FILE_LINES} at most: split it by idea` }));
}

/** Functions of more than 50 lines; a Svelte file is judged by its own length alone. */
export function longFunctions(source: Source): readonly Offence[] {
  if (!isCode(source.path) || source.path.endsWith('.svelte')) return [];
  return functionsOf(source)
    .filter(({ lines }) => lines > MAX_FUNCTION_LINES)
    .map(({ name, line, lines }) => ({ path: source.path, line, what: `${name} has ${lines} lines, ${MAX_FUNCTION_LINES} at most: give its steps names of their own` }));
}

/** The value below which the share `q` of the values lies; 0 of an empty list. */
export function quantile(values: readonly number[], q: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))] ?? 0;
}

/** What the design asks to be kept small: median file (120 lines) and 90th percentile of named functions (25 lines), tests left out. */
export function shape(sources: readonly Source[]): { readonly files: number; readonly medianFileLines: number; readonly functions: number; readonly p90FunctionLines: number } {
  const house = sources.filter(({ path }) => isCode(path) && !path.startsWith('tests/'));
  const named = house.flatMap((source) => functionsOf(source).filter((size) => size.named));
  return {
    files: house.length,
    medianFileLines: quantile(house.map(({ text }) => lineCount(text)), 0.5),
    functions: named.length,
    p90FunctionLines: quantile(named.map(({ lines }) => lines), 0.9),
  };
}
