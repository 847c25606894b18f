import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';

/** One file of the repository: its path from the top with forward slashes, and its text. */
export interface Source {
  readonly path: string;
  readonly text: string;
}

/** One breach of a house rule, and what to do about it. */
export interface Offence {
  readonly path: string;
  readonly line: number;
  readonly what: string;
}

const top = fileURLToPath(new URL('../..', import.meta.url));
const codeEnding = /\.(ts|js|mjs|cjs|svelte)$/;
const textEnding = /\.(ts|js|mjs|cjs|svelte|css|html|json|ya?ml|md|svg|sh|py)$/;

/** Every path that git tracks or would track, so that a new file is judged before it is committed. */
export function repositoryPaths(): readonly string[] {
  const listed = execFileSync('git', ['ls-files', '-z', '--cached', '--others', '--exclude-standard'], { cwd: top, encoding: 'utf8', maxBuffer: 1 << 26 });
  return listed.split('\0').filter((path) => path !== '' && existsSync(top + path)).sort();
}

/** The text files among `paths`; the lock file is the package manager's own and is left out. */
export function readSources(paths: readonly string[]): readonly Source[] {
  const wanted = paths.filter((path) => path !== 'package-lock.json' && (textEnding.test(path) || path.startsWith('.ci/')));
  return wanted.map((path) => ({ path, text: readFileSync(top + path, 'utf8') }));
}

export const isCode = (path: string): boolean => codeEnding.test(path);

/** The scripts of a Svelte file with all else blanked out, so that line numbers stay as they are. */
export function scriptOf(source: Source): string {
  if (!source.path.endsWith('.svelte')) return source.text;
  const blank = (text: string): string => text.replace(/[^\n]/g, ' ');
  let script = '';
  let at = 0;
  for (const match of source.text.matchAll(/(<script[^>]*>)([\s\S]*?)<\/script>/g)) {
    const begin = match.index + (match[1] ?? '').length;
    const body = match[2] ?? '';
    script += blank(source.text.slice(at, begin)) + body;
    at = begin + body.length;
  }
  return script + blank(source.text.slice(at));
}

/** The syntax tree of a code file. */
export function parse(source: Source): ts.SourceFile {
  const kind = /\.(ts|svelte)$/.test(source.path) ? ts.ScriptKind.TS : ts.ScriptKind.JS;
  return ts.createSourceFile(source.path, scriptOf(source), ts.ScriptTarget.ESNext, true, kind);
}

/** Line, counted from 1, at which a node begins (its comment not included). */
export function lineOf(tree: ts.SourceFile, node: ts.Node): number {
  return tree.getLineAndCharacterOfPosition(node.getStart(tree)).line + 1;
}

/** Calls `visit` with every node of a tree, parents first. */
export function walk(node: ts.Node, visit: (node: ts.Node) => void): void {
  visit(node);
  node.forEachChild((child) => {
    walk(child, visit);
  });
}

/** One line an offence, as an editor can follow it. */
export function report(offences: readonly Offence[]): readonly string[] {
  return offences.map(({ path, line, what }) => `${path}:${line} ${what}`);
}
