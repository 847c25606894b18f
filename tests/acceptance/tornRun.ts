import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { checkOnStart } from '../../daemon/records/check/onStart.ts';
import { openRecords, verifyRecords } from '../../daemon/records/index.ts';
import { randomStream } from '../../simulators/random.ts';
import { TornDisk } from '../support/tornDisk.ts';
import { drawCut, logNight, wrongWith } from '../support/tornWal.ts';
import { tracedCalls, tracedSteps, type TracedStep } from './tornTrace.ts';

/** What came out of one kind of torn writes. */
export interface TornOutcome {
  readonly cuts: number;
  readonly wrong: readonly string[];
  readonly said: string;
}

/** Copies of the database with their log cut, torn, rotten, half checkpointed or half begun anew. */
export function tearLogs(folder: string, cuts: number, seed: number): TornOutcome {
  const wrong: string[] = [];
  const perNight = 100;
  const kinds = new Map<string, number>();
  for (let done = 0; done < cuts; done += perNight) {
    const { below } = randomStream(seed, String(done), 'torn logs');
    const night = logNight(join(folder, 'night'), 2 + below(7));
    for (let n = 0; n < Math.min(perNight, cuts - done); n++) {
      const cut = drawCut(night, below);
      const kind = cut.how.replace(/\d+/g, 'n');
      kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
      wrong.push(...wrongWith(cut, join(folder, 'cut')));
    }
  }
  return { cuts, wrong, said: [...kinds].map(([kind, count]) => `${count} ${kind}`).join(', ') };
}

/** Records tiles with their pictures in a real process and writes every step that it took on the disk. Undefined where there is no strace. */
export function traceNight(folder: string, command: readonly string[]): string | undefined {
  const file = join(folder, 'trace');
  const asked = ['-f', '-xx', '-s', '1000000', '-e', `trace=${tracedCalls}`, '-o', file];
  const { error, status, stderr } = spawnSync('strace', [...asked, process.execPath, ...command], { env: { ...process.env, UV_USE_IO_URING: '0' }, encoding: 'utf8' });
  if (error && 'code' in error && error.code === 'ENOENT') return undefined;
  if (error ?? status !== 0) throw new Error(`strace ended with ${status}: ${error?.message ?? stderr}`);
  return readFileSync(file, 'utf8');
}

/** Puts a disk as a power cut left it at another place. The shared memory of the database is nothing that outlives a power cut. */
function put(found: ReadonlyMap<string, Uint8Array>, from: string, to: string): void {
  mkdirSync(to, { recursive: true });
  for (const [path, bytes] of found) {
    if (path.endsWith('-shm')) continue;
    const place = join(to, path.slice(from.length));
    mkdirSync(dirname(place), { recursive: true });
    writeFileSync(place, bytes);
  }
}

/** What a start finds there: the last tile that was said is recorded, all of it, and nothing by halves. */
async function wrongAfter(data: string, lastSaid: number): Promise<string[]> {
  const records = openRecords(data);
  try {
    checkOnStart(records, 0);
    const [runId] = records.runIds();
    const tiles = runId === undefined ? [] : records.tiles(runId).map(({ tile }) => tile);
    const flakes = runId === undefined ? [] : records.flakes(runId).map(({ bestTile }) => bestTile);
    const newest = tiles.length - 1;
    const report = await verifyRecords(records);
    return [
      ...(newest < lastSaid ? [`tile ${lastSaid} was said to be recorded, and ${newest} is the last`] : []),
      ...(tiles.some((tile, n) => tile !== n) ? [`the tiles are ${tiles.join()}`] : []),
      ...(flakes.some((tile, n) => tile !== Math.min(n + 1, newest)) || flakes.length !== tiles.length ? [`the flakes are those of ${flakes.join()}`] : []),
      ...report.problems.map(({ where, what }) => `${where}: ${what}`),
      ...[...report.leftovers, ...report.orphans].map((file) => `${file} was neither removed nor set aside`),
    ];
  } finally {
    records.close();
  }
}

/** Replays a traced process and cuts the power between any two of its steps, with what was not synced lost, torn or out of order. */
export async function tearTrace(folder: string, trace: string, data: string, cuts: number, seed: number): Promise<TornOutcome> {
  const { below } = randomStream(seed, 'trace', 'torn writes');
  const steps: TracedStep[] = tracedSteps(trace, dirname(data));
  const moments = Array.from({ length: cuts }, () => below(steps.length + 1)).sort((a, b) => a - b);
  const disk = new TornDisk();
  for (const part of ancestors(dirname(data))) {
    disk.folder(part);
    disk.sync(dirname(part));
  }
  const wrong: string[] = [];
  const place = join(folder, 'after');
  let lastSaid = -1;
  for (let n = 0, cut = 0; n <= steps.length; n++) {
    for (; moments[cut] === n; cut++) {
      put(disk.afterPowerCut(below), data, place);
      wrong.push(...(await wrongAfter(place, lastSaid)).map((what) => `power cut after step ${n} of ${steps.length}: ${what}`));
      rmSync(place, { recursive: true });
    }
    const step = steps[n];
    if (step?.kind === 'disk') step.does(disk);
    else if (step) lastSaid = Number(step.text);
  }
  return { cuts, wrong, said: `${steps.length} steps, ${lastSaid + 1} tiles` };
}

function ancestors(path: string): string[] {
  return dirname(path) === path ? [] : [...ancestors(dirname(path)), path];
}
