import ts from 'typescript';
import { isCode, lineOf, parse, walk } from './sources.ts';
import type { Offence, Source } from './sources.ts';

const SYSTEM_CLOCK = 'drivers/clock/systemClock.ts';
/** Secrets must not be foreseen, so they come from no seed: the one file that may draw them. */
const SYSTEM_SECRETS = 'daemon/server/systemSecrets.ts';
const timers = ['setTimeout', 'setInterval', 'performance.now', 'requestAnimationFrame'];
const chance = ['Math.random', 'crypto.randomUUID', 'crypto.randomBytes', 'crypto.getRandomValues', 'randomUUID', 'randomBytes'];
const clocks = ['Date.now', 'new Date()', 'setImmediate', 'process.hrtime', 'process.uptime', ...timers];
const watched: ReadonlySet<string> = new Set([...clocks, ...chance]);

/** What a file may use all the same: the clock's own file anything, the secrets' own file the system's random bytes, the virtual clock a turn of the event loop, the browser its timers. */
function allowedIn(path: string): ReadonlySet<string> {
  if (path === SYSTEM_CLOCK) return watched;
  if (path === SYSTEM_SECRETS) return new Set(['randomBytes']);
  if (path.startsWith('simulators/clock/')) return new Set(['setImmediate']);
  if (path.startsWith('ui/')) return new Set(timers);
  // Acceptance drives real processes, and the system clock can only be tested against the machine's.
  if (path.startsWith('tests/acceptance/') || /^tests\/.*clock[^/]*$/i.test(path)) return new Set(clocks);
  // A measured speed needs a stopwatch; a wait does not belong in a test.
  if (path.startsWith('tests/')) return new Set(['performance.now', 'setImmediate', 'process.hrtime', 'requestAnimationFrame']);
  return new Set();
}

/** A mention of a clock or of chance at this node, by its plain name. */
function mention(node: ts.Node): string | undefined {
  if (ts.isNewExpression(node) && node.expression.getText() === 'Date' && (node.arguments ?? []).length === 0) return 'new Date()';
  if (ts.isPropertyAccessExpression(node)) {
    const name = node.getText().replace(/\?/g, '').replace(/^(globalThis|window|self)\./, '');
    return watched.has(name) ? name : undefined;
  }
  if (!ts.isIdentifier(node) || !watched.has(node.text)) return undefined;
  const { parent } = node;
  const isMember = ts.isPropertyAccessExpression(parent) && parent.name === node;
  const isDeclared = (ts.isPropertyAssignment(parent) || ts.isPropertySignature(parent) || ts.isMethodSignature(parent) || ts.isMethodDeclaration(parent)) && parent.name === node;
  return isMember || isDeclared ? undefined : node.text;
}

/** Whether an import of the timers' module takes nothing but what this file may use: a turn of the event loop, in tests. */
function importsOnly(node: ts.Node, allowed: ReadonlySet<string>): boolean {
  const names = ts.isImportDeclaration(node) ? node.importClause?.namedBindings : undefined;
  return names !== undefined && ts.isNamedImports(names) && names.elements.every((each) => allowed.has((each.propertyName ?? each.name).text));
}

/** Clocks, waits and chance outside the files that may have them; imports of timers and random numbers count through their names. */
export function clockOffences(source: Source): readonly Offence[] {
  if (!isCode(source.path)) return [];
  const tree = parse(source);
  const allowed = allowedIn(source.path);
  const offences: Offence[] = [];
  walk(tree, (node) => {
    const isTimersModule = ts.isStringLiteral(node) && /^(node:)?timers(\/promises)?$/.test(node.text) && ts.isImportDeclaration(node.parent);
    const name = isTimersModule ? 'node:timers' : mention(node);
    if (name === undefined || allowed.has(name) || (isTimersModule && importsOnly(node.parent, allowed))) return;
    const instead = chance.includes(name) ? 'take a seeded random stream as an argument, or Secrets for what nobody may foresee' : 'take the Clock as an argument';
    offences.push({ path: source.path, line: lineOf(tree, node), what: `${name}: ${instead}` });
  });
  return offences;
}
