import { posix } from 'node:path';
import ts from 'typescript';
import { isCode, lineOf, parse, walk } from './sources.ts';
import type { Source } from './sources.ts';

/** One place where a file names another module. */
export interface ImportUse {
  readonly from: string;
  readonly line: number;
  readonly specifier: string;
  /** Erased by the compiler: nothing of it is left at run time. */
  readonly typeOnly: boolean;
}

function isTypeOnly(node: ts.ImportDeclaration | ts.ExportDeclaration): boolean {
  if (ts.isExportDeclaration(node)) return node.isTypeOnly;
  const clause = node.importClause;
  if (!clause) return false;
  if (clause.isTypeOnly) return true;
  const named = clause.namedBindings;
  if (clause.name || !named || !ts.isNamedImports(named)) return false;
  return named.elements.length > 0 && named.elements.every((element) => element.isTypeOnly);
}

/** A worker is named by a relative string, as in `new URL('./worker.ts', import.meta.url)`, or from the top by `builtFile('daemon/x.js')`. */
function namesWorker(node: ts.StringLiteralLike): boolean {
  if (!isCode(node.text)) return false;
  const fromTop = ts.isCallExpression(node.parent) && node.parent.expression.getText() === 'builtFile';
  return fromTop || /^\.\.?\/[\w./-]+$/.test(node.text);
}

function specifierOf(node: ts.Node): { readonly specifier: string; readonly typeOnly: boolean } | undefined {
  if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) {
    const literal = node.moduleSpecifier;
    return literal && ts.isStringLiteral(literal) ? { specifier: literal.text, typeOnly: isTypeOnly(node) } : undefined;
  }
  if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument) && ts.isStringLiteral(node.argument.literal)) {
    return { specifier: node.argument.literal.text, typeOnly: true };
  }
  if (!ts.isStringLiteralLike(node) || ts.isImportDeclaration(node.parent) || ts.isExportDeclaration(node.parent)) return undefined;
  const isDynamicImport = ts.isCallExpression(node.parent) && node.parent.expression.kind === ts.SyntaxKind.ImportKeyword;
  return isDynamicImport || namesWorker(node) ? { specifier: node.text, typeOnly: false } : undefined;
}

/** Everything that one file imports, re-exports, loads later or starts as a worker. */
export function importsOf(source: Source): readonly ImportUse[] {
  const tree = parse(source);
  const uses: ImportUse[] = [];
  walk(tree, (node) => {
    const found = specifierOf(node);
    if (found) uses.push({ from: source.path, line: lineOf(tree, node), ...found });
  });
  return uses;
}

/**
 * The path from the top that a specifier names, with `.js` turned back to the `.ts` it was compiled from and the build
 * folder taken off; `undefined` for a package.
 */
export function targetOf(use: ImportUse, known: ReadonlySet<string>): string | undefined {
  const fromTop = /^(daemon|drivers|planner|simulators|ui)\//.test(use.specifier);
  if (!fromTop && !use.specifier.startsWith('.')) return undefined;
  const plain = use.specifier.replace(/\?.*$/, '');
  const path = posix.normalize(posix.join(fromTop ? '.' : posix.dirname(use.from), plain)).replace(/^\.build\//, '');
  const asSource = path.replace(/\.js$/, '.ts');
  return known.has(path) || !known.has(asSource) ? path : asSource;
}
