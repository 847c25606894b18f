import ts from 'typescript';
import { isCode, lineOf, parse, walk } from './sources.ts';
import type { Offence, Source } from './sources.ts';

const topLevel: ReadonlySet<string> = new Set(['README.md', 'DEVELOPERS.md', 'LICENSE', 'package.json', 'package-lock.json', 'tsconfig.json', 'daemon', 'drivers', 'planner', 'simulators', 'tests', 'ui']);

/** Anything at the top that is neither on the design's list nor a dotfile. */
export function topLevelOffences(paths: readonly string[]): readonly Offence[] {
  const entries = new Set(paths.map((path) => path.split('/')[0] ?? ''));
  const unlisted = [...entries].filter((entry) => !entry.startsWith('.') && !topLevel.has(entry));
  return unlisted.map((entry) => ({ path: entry, line: 1, what: 'is not on the list of top-level entries: move it into one of the six folders' }));
}

/** `any`, the postfix `!`, and `x!: T`: each tells the compiler to stop looking. */
export function typeHoles(source: Source): readonly Offence[] {
  if (!isCode(source.path)) return [];
  const tree = parse(source);
  const offences: Offence[] = [];
  const found = (node: ts.Node, what: string): void => {
    offences.push({ path: source.path, line: lineOf(tree, node), what });
  };
  walk(tree, (node) => {
    if (node.kind === ts.SyntaxKind.AnyKeyword) found(node, 'any: say what it is, or unknown and check it');
    if (ts.isNonNullExpression(node)) found(node, 'postfix "!": check for undefined, or say why it cannot be with an error');
    if ((ts.isPropertyDeclaration(node) || ts.isVariableDeclaration(node)) && node.exclamationToken) found(node, '"!:": give it a first value');
  });
  return offences;
}

// Spelt in pieces, so that this file does not find itself.
const marks: readonly { readonly pattern: RegExp; readonly what: string }[] = [
  { pattern: new RegExp(`\\b(${['TO' + 'DO', 'FIX' + 'ME', 'XX' + 'X', 'HA' + 'CK'].join('|')})\\b`), what: 'unfinished mark: do it, or file an issue' },
  { pattern: new RegExp(`@ts-(${['ig' + 'nore', 'expect-' + 'error', 'no' + 'check'].join('|')})`), what: 'type check switched off: mend the type' },
  { pattern: new RegExp(`eslint-${'dis' + 'able'}(?!.*-- \\w)`), what: 'lint rule switched off without a reason: mend it, or say why behind " -- "' },
  { pattern: new RegExp(`\\b(it|test|describe)\\.(${['sk' + 'ip', 'on' + 'ly', 'to' + 'do', 'fai' + 'ls'].join('|')})\\b`), what: 'test that does not run: run it or delete it' },
];

/** Marks of unfinished work in code. */
export function markOffences(source: Source): readonly Offence[] {
  if (!isCode(source.path)) return [];
  return matchLines(source, marks);
}

const machinePath = { pattern: new RegExp(`(^|[^.\\w])/(home|root|${'wo' + 'rk'}|${'fa' + 'rm'}|tmp|Users)/[a-z.]`), what: 'absolute path of one machine: take it from the caller, or use the system\'s temporary folder' };

/** Absolute paths of one machine in any text file. */
export function machinePathOffences(source: Source): readonly Offence[] {
  return matchLines(source, [machinePath]);
}

function matchLines(source: Source, rules: readonly { readonly pattern: RegExp; readonly what: string }[]): readonly Offence[] {
  const lines = source.text.split('\n');
  return lines.flatMap((text, index) => rules.filter(({ pattern }) => pattern.test(text)).map(({ what }) => ({ path: source.path, line: index + 1, what })));
}
