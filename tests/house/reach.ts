import { targetOf } from './imports.ts';
import type { ImportUse } from './imports.ts';
import type { Offence } from './sources.ts';
import { isCode } from './sources.ts';

/** Where programs begin: the command, the page, the tests, and what tools read by name. Workers are reached by the URL that starts them. */
const programs: readonly RegExp[] = [/^daemon\/bin\.js$/, /^daemon\/cli\/main\.ts$/, /^ui\/(main|door)\.ts$/, /\.config\.(ts|js|mjs)$/];
const tests: readonly RegExp[] = [/^tests\/.*\.test\.ts$/, /^tests\/globalSetup\.ts$/, /^tests\/(acceptance|bench)\/[^/]+\.mjs$/];

type Graph = ReadonlyMap<string, readonly string[]>;

/** Which known file each file imports, types included. */
export function graphOf(uses: readonly ImportUse[], known: ReadonlySet<string>): Graph {
  const graph = new Map<string, string[]>();
  for (const path of known) graph.set(path, []);
  for (const use of uses) {
    const target = targetOf(use, known);
    if (target !== undefined && known.has(target)) graph.get(use.from)?.push(target);
  }
  return graph;
}

function reached(graph: Graph, entries: readonly RegExp[]): ReadonlySet<string> {
  const seen = new Set<string>();
  const open = [...graph.keys()].filter((path) => entries.some((entry) => entry.test(path)));
  for (let path = open.pop(); path !== undefined; path = open.pop()) {
    if (seen.has(path)) continue;
    seen.add(path);
    open.push(...(graph.get(path) ?? []));
  }
  return seen;
}

/** Code files that no program and no test ever loads. */
export function deadFiles(graph: Graph): readonly Offence[] {
  const alive = reached(graph, [...programs, ...tests]);
  const dead = [...graph.keys()].filter((path) => isCode(path) && !alive.has(path));
  return dead.map((path) => ({ path, line: 1, what: 'no import reaches this file from a program or a test: use it or delete it' }));
}

/** Code of the house that only tests load: allowed (a simulator's far end is such), but worth a look. */
export function onlyTested(graph: Graph): readonly string[] {
  const used = reached(graph, programs);
  const alive = reached(graph, [...programs, ...tests]);
  return [...alive].filter((path) => isCode(path) && !used.has(path) && !path.startsWith('tests/')).sort();
}

/** Circular imports, types included, each told once at the file where it was met. */
export function circles(graph: Graph): readonly Offence[] {
  const offences: Offence[] = [];
  const done = new Set<string>();
  const visit = (path: string, trail: readonly string[]): void => {
    const at = trail.indexOf(path);
    if (at >= 0) {
      const circle = [...trail.slice(at), path].join(' -> ');
      offences.push({ path, line: 1, what: `circular import ${circle}: move what both need into a third file` });
      return;
    }
    if (done.has(path)) return;
    for (const target of new Set(graph.get(path))) visit(target, [...trail, path]);
    done.add(path);
  };
  for (const path of graph.keys()) visit(path, []);
  return offences;
}
