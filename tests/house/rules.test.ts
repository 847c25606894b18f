import { describe, expect, test } from 'vitest';
import { clockOffences } from './clocks.ts';
import { floorOffences } from './floors.ts';
import { importsOf } from './imports.ts';
import { circles, deadFiles, graphOf, onlyTested } from './reach.ts';
import { functionsOf, longFiles, longFunctions, quantile, shape } from './sizes.ts';
import type { Source } from './sources.ts';
import { machinePathOffences, markOffences, topLevelOffences, typeHoles } from './words.ts';

// Each house rule on a small made-up source, so that it is known to fail when it should, and only then.

const source = (path: string, ...lines: readonly string[]): Source => ({ path, text: `${lines.join('\n')}\n` });

function floors(path: string, line: string): readonly string[] {
  const known = new Set(['planner/units/index.ts', 'drivers/gate/gate.ts', 'simulators/index.ts', 'daemon/server/messages.ts', 'daemon/run/run.ts']);
  return floorOffences(importsOf(source(path, line)), known).map(({ what }) => what);
}

describe('floors', () => {
  test.each([
    ['planner/a/b.ts', "import { readFileSync } from 'node:fs';"],
    ['planner/a/b.ts', "import type { Stage } from '../../drivers/interfaces/index.ts';"],
    ['planner/a/b.ts', "import { z } from 'zod';"],
    ['drivers/a/b.ts', "import { plan } from '../../planner/plan/plan.ts';"],
    ['simulators/a.ts', "import { gate } from '../drivers/gate/gate.ts';"],
    ['simulators/a.ts', "import { x } from '../daemon/vision/types.ts';"],
    ['daemon/run/run.ts', "import { simulate } from '../../simulators/index.ts';"],
    ['daemon/run/run.ts', "const late = await import('../../simulators/index.ts');"],
    ['daemon/cli/scan.ts', "import { request } from 'node:http';"],
    ['daemon/cli/scan.ts', "import { WebSocket } from 'ws';"],
    ['daemon/vision/a.ts', "import { map } from 'rxjs';"],
    ['daemon/run/a.ts', "import Database from 'better-sqlite3';"],
    ['ui/map/a.ts', "import { clientMessageSchema } from '../../daemon/server/messages.ts';"],
    ['ui/map/a.ts', "import type { Records } from '../../daemon/records/types.ts';"],
    ['ui/map/a.ts', "import { join } from 'node:path';"],
    ['daemon/run/a.ts', "import { openGcode } from '../../drivers/gcode/index.ts';"],
    ['daemon/run/a.ts', "import { openRealDevices } from '../instrument/realDevices.ts';"],
    ['daemon/cli/a.ts', "const { openCamera } = await import('../instrument/openCamera.ts');"],
    ['daemon/cli/a.ts', "import { serialOpener } from '../../drivers/line/serialWire.ts';"],
    ['daemon/cli/a.ts', "import { createTransport } from 'nodemailer';"],
    ['drivers/gcode/a.ts', "import { SerialPort } from 'serialport';"],
    ['daemon/doctor/a.ts', "import koffi from 'koffi';"],
  ])('%s may not say %s', (path, line) => {
    expect(floors(path, line)).toHaveLength(1);
  });
  test.each([
    ['drivers/a/b.ts', "import type { StagePoint } from '../../planner/units/index.ts';"],
    ['simulators/a.ts', "import type { Stage } from '../drivers/interfaces/index.ts';"],
    ['daemon/instrument/open.ts', "import { simulate } from '../../simulators/index.ts';"],
    ['daemon/pipeline/a.ts', "import { concatMap } from 'rxjs/operators';"],
    ['daemon/instrument/a.ts', "import { openGcode } from '../../drivers/gcode/index.ts';"],
    ['daemon/run/a.ts', "import { openInstrument } from '../instrument/open.ts';"],
    ['daemon/instrument/open.ts', "import { openRealDevices } from './realDevices.ts';"],
    ['daemon/instruments/a.ts', "import { listSerialPorts } from '../../drivers/line/ports.ts';"],
    ['daemon/server/a.ts', "import { WebSocketServer } from 'ws';"],
    ['ui/map/a.ts', "import type { TileView } from '../../daemon/server/messages.ts';"],
    ['ui/map/a.ts', "import { type TileView } from '../../daemon/server/messages.ts';"],
    ['tests/server/a.test.ts', "import { WebSocket } from 'ws';"],
    ['ui/vite.config.ts', "import { fileURLToPath } from 'node:url';"],
  ])('%s may say %s', (path, line) => {
    expect(floors(path, line)).toEqual([]);
  });
  test('the script of a Svelte file counts, at its own line', () => {
    const uses = importsOf(source('ui/App.svelte', '<p>no</p>', '<script lang="ts">', "  import { x } from '../daemon/run/run.ts';", '</script>'));
    expect(floorOffences(uses, new Set())).toMatchObject([{ path: 'ui/App.svelte', line: 3 }]);
  });
});

function graphFrom(files: Readonly<Record<string, string>>): ReturnType<typeof graphOf> {
  const sources = Object.entries(files).map(([path, text]) => ({ path, text }));
  return graphOf(sources.flatMap(importsOf), new Set(Object.keys(files)));
}

describe('reach', () => {
  test('a file that nothing loads is dead; a worker named by its address is not', () => {
    const graph = graphFrom({
      'daemon/cli/main.ts': "import './scan.ts';\nnew Worker(new URL('./near.js', import.meta.url));\nnew Worker(builtFile('daemon/far/far.js'));",
      'daemon/cli/scan.ts': '',
      'daemon/cli/near.ts': '',
      'daemon/far/far.ts': '',
      'daemon/cli/forgotten.ts': "import './scan.ts';",
      'tests/a.test.ts': "import '../planner/tried.ts';",
      'planner/tried.ts': '',
    });
    expect(deadFiles(graph).map(({ path }) => path)).toEqual(['daemon/cli/forgotten.ts']);
    expect(onlyTested(graph)).toEqual(['planner/tried.ts']);
  });
  test('a circle is found, also through types', () => {
    const graph = graphFrom({ 'planner/a.ts': "import './b.ts';", 'planner/b.ts': "import type { C } from './c.ts';", 'planner/c.ts': "export * from './a.ts';" });
    expect(circles(graph).map(({ what }) => what)).toEqual([expect.stringContaining('planner/a.ts -> planner/b.ts -> planner/c.ts -> planner/a.ts')]);
  });
  test('a diamond is no circle', () => {
    expect(circles(graphFrom({ 'planner/a.ts': "import './b.ts';\nimport './c.ts';", 'planner/b.ts': "import './d.ts';", 'planner/c.ts': "import './d.ts';", 'planner/d.ts': '' }))).toEqual([]);
  });
});

const lines = (count: number): readonly string[] => Array.from({ length: count }, (_, index) => `  f(${index});`);

describe('sizes', () => {
  test('400 lines pass, 401 do not', () => {
    expect(longFiles([source('ui/a.css', ...lines(400)), source('ui/b.svelte', ...lines(401))]).map(({ path }) => path)).toEqual(['ui/b.svelte']);
  });
  test.each(['function f() {', 'const f = () => {', 'const c = { f() {'])('50 lines pass, 51 do not: %s', (head) => {
    const end = head.startsWith('const c') ? '}};' : '}';
    expect(longFunctions(source('daemon/a.ts', head, ...lines(48), end))).toEqual([]);
    expect(longFunctions(source('daemon/a.ts', '', head, ...lines(49), end))).toMatchObject([{ line: 2, what: expect.stringContaining('f has 51 lines') as unknown }]);
  });
  test('a comment above a function and a group of tests do not count', () => {
    expect(longFunctions(source('daemon/a.ts', '/**', ...lines(60).map((line) => ` * ${line}`), ' */', 'function f() {', '}'))).toEqual([]);
    expect(longFunctions(source('tests/a.test.ts', "describe('x', () => {", ...lines(60), '});'))).toEqual([]);
  });
  test('quantiles by hand: of 1 to 10 the median is 6 and the 90th percentile 10', () => {
    const ten = [10, 9, 8, 7, 6, 5, 4, 3, 2, 1];
    expect([quantile(ten, 0.5), quantile(ten, 0.9), quantile([], 0.5)]).toEqual([6, 10, 0]);
  });
  test('the shape counts named functions of the house only', () => {
    const file = source('planner/a.ts', 'export function f() {', '  return [1].map((x) => x);', '}');
    expect(functionsOf(file).map(({ named }) => named)).toEqual([true, false]);
    expect(shape([file, source('tests/b.ts', ...lines(90))])).toEqual({ files: 1, medianFileLines: 3, functions: 1, p90FunctionLines: 3 });
  });
});

describe('clocks and chance', () => {
  test.each(['Date.now()', 'new Date()', 'setTimeout(f, 1)', 'globalThis.setTimeout(f, 1)', 'setInterval(f, 1)', 'setImmediate(f)', 'performance.now()', 'Math.random()', 'const wait = setTimeout', 'process.hrtime.bigint()', 'randomBytes(32)', "import { setTimeout as s } from 'node:timers/promises'"])('daemon may not say %s', (text) => {
    expect(clockOffences(source('daemon/a.ts', text)).length).toBeGreaterThan(0);
  });
  test.each([
    ['drivers/clock/systemClock.ts', 'setTimeout(f, Date.now())'],
    ['simulators/clock/virtualClock.ts', 'setImmediate(f)'],
    ['daemon/server/systemSecrets.ts', 'randomBytes(32)'],
    ['ui/a.ts', 'setTimeout(f, 1)'],
    ['daemon/a.ts', 'new Date(clock.now())'],
    ['daemon/a.ts', 'clock.setTimeout(f)'],
    ['daemon/a.ts', '// Date.now() is not here'],
  ])('%s may say %s', (path, text) => {
    expect(clockOffences(source(path, text))).toEqual([]);
  });
  test.each([['simulators/clock/virtualClock.ts', 'setTimeout(f)'], ['ui/a.ts', 'Date.now()'], ['ui/a.ts', 'Math.random()'], ['tests/a.test.ts', 'setTimeout(f, 1)']])('%s may not say %s', (path, text) => {
    expect(clockOffences(source(path, text))).toHaveLength(1);
  });
});

describe('words', () => {
  test('holes in the types', () => {
    const holes = typeHoles(source('daemon/a.ts', 'const a: any = 1;', 'f(a!);', 'class C { x!: number }', 'const b = !a && a !== 1; // any!'));
    expect(holes.map(({ line }) => line)).toEqual([1, 2, 3]);
  });
  test('marks of unfinished work', () => {
    const text = ['// TO' + 'DO later', '// @ts-ig' + 'nore', '// eslint-dis' + 'able-next-line x', 'te' + 'st.sk' + 'ip(1)', '// fine: method, hackle'];
    expect(markOffences(source('daemon/a.ts', ...text)).map(({ line }) => line)).toEqual([1, 2, 3, 4]);
  });
  test('paths of one machine, but no address and no relative path', () => {
    const text = ['/ho' + 'me/me/x', 'see "/tm' + 'p/x"', 'http://a.example/ho' + 'me/x', '../tmp/x', './ho' + 'me/x'];
    expect(machinePathOffences(source('README.md', ...text)).map(({ line }) => line)).toEqual([1, 2]);
  });
  test('the top level', () => {
    expect(topLevelOffences(['README.md', 'planner/a.ts', '.ci/run', 'scripts/x.sh']).map(({ path }) => path)).toEqual(['scripts']);
  });
});
