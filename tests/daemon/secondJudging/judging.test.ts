import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { opticalPathFor } from '../../../daemon/config/resolve.ts';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { openRecords, type RecordsStore } from '../../../daemon/records/index.ts';
import { NightBoard } from '../../../daemon/run/board.ts';
import type { NightToRead } from '../../../daemon/run/bookContext.ts';
import { beginNight } from '../../../daemon/run/openNight.ts';
import { VerdictDesk } from '../../../daemon/run/verdictDesk.ts';
import { chipFrames, runView } from '../../../daemon/run/views.ts';
import { SecondJudging } from '../../../daemon/secondJudging/judging.ts';
import { agreementSentences } from '../../../daemon/secondJudging/words.ts';
import type { FeedMessage, GivenVerdict } from '../../../daemon/server/index.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { instantClock } from '../../support/instantClock.ts';
import { tinyFiles } from '../../support/tinyFiles.ts';
import { recordedShelf } from '../../../daemon/run/flakeShelf.ts';

/**
 * Protects: a person judges flakes one after the other and meets a few of them twice without any sign of it; what is said then stands
 * beside the first verdict, which keeps its place, and no ladder hears of it. Laws of our own.
 */

const count = 120;
let folder = '';
let records: RecordsStore;
let context: NightToRead;
let board: NightBoard;
let judging: SecondJudging;
let desk: VerdictDesk;
let nowMs = 0;
/** As the pages are told. */
let told: FeedMessage[];

function flake(n: number): Flake {
  const [x, y] = [40 * (n % 20), 40 * Math.floor(n / 20)];
  const outlineUm = [{ xUm: x, yUm: y }, { xUm: x + 9, yUm: y }, { xUm: x + 9, yUm: y + 9 }, { xUm: x, yUm: y + 9 }];
  const call = { layers: 1, probability: 0.9, probabilities: [0, 0.9, 0.1], misfit: 1 };
  const terrace = { outlineUm, areaUm2: 81, contrast: [0.09, 0.08, 0], contrastError: [0.01, 0.01, 0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm: 9, inscribedCentreUm: { xUm: x + 4, yUm: y + 4 }, saturatedShare: 0, call };
  return { id: `T-${n}`, chip: 'T-01', bestTile: 0, tiles: [0], centreUm: { xUm: x + 4, yUm: y + 4 }, terraces: [terrace], verdict: 'flagged', layers: 1, usableUm: 9, areaUm2: 81, rank: count - n };
}

const said = (flakeId: string, layers = 2, more: Partial<GivenVerdict> = {}): GivenVerdict => ({ flakeId, terrace: 0, layers, source: 'blindEye', initials: 'm.o.', ...more });
const shown = (flakeId: string) => board.flake(flakeId)?.verdicts?.map(({ layers }) => layers);
const codeOf = async (work: () => unknown): Promise<string> => {
  try {
    await work();
    return 'nothing';
  } catch (error) {
    return sentenceFor(error).code;
  }
};

/** As the observatory does it. */
async function give(verdict: GivenVerdict): Promise<boolean> {
  nowMs += 20_000;
  if (judging.give(verdict)) return true;
  await desk.give(verdict);
  judging.settled(verdict.flakeId);
  return false;
}

/** Judges what is offered until `until` says so or nothing is left. Returns the flakes in order. */
async function judgeOn(layersOf: (flakeId: string) => number, until: (flakeId: string) => boolean = () => false): Promise<readonly string[]> {
  const offered: string[] = [];
  for (let next = judging.next('m.o.'); next !== undefined; next = judging.next('m.o.')) {
    offered.push(next);
    if (until(next)) return offered;
    await give(said(next, layersOf(next)));
  }
  return offered;
}

function open(): void {
  const clock = { ...instantClock(0), now: () => nowMs };
  judging = new SecondJudging({ records, runId: context.runId, board, clock });
  desk = new VerdictDesk({ context, board, clock, recalibrate: () => Promise.reject(new Error('no chip is to be read again here')), mayReread: () => false });
}

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightjar-judging-'));
  records = openRecords(folder);
  nowMs = 1_790_000_000_000;
  const opened = beginNight(records, tinyFiles(), 0);
  context = { ...opened, records, path: opticalPathFor(opened.sheet.opticalPath, opened.config) };
  board = new NightBoard();
  const flakes = Array.from({ length: count }, (_, n) => flake(n));
  records.updateFlakes(opened.runId, flakes);
  board.show(runView(context, chipFrames(context), 0), [], recordedShelf({ ...context, records }, chipFrames(context)), []);
  told = [];
  board.subscribe((message) => told.push(message));
  open();
});
afterEach(() => {
  records.close();
  rmSync(folder, { recursive: true, force: true });
});

/** The first flake that comes for the second time, with all judged before it. */
async function toTheFirstAgain(): Promise<string> {
  const seen = new Set<string>();
  const offered = await judgeOn(() => 2, (id) => seen.has(id) || !seen.add(id));
  return offered.at(-1) ?? '';
}

describe('flakes offered for judging', () => {
  it('come best first, each once, and a few of them twice, never soon', async () => {
    const offered = await judgeOn(() => 2);
    const firsts = offered.filter((id, i) => offered.indexOf(id) === i);
    expect(firsts).toEqual(Array.from({ length: count }, (_, n) => `T-${n}`));
    const seconds = records.secondVerdicts(context.runId);
    expect(offered.length - count).toBe(seconds.length);
    // 5 % of 120 are 6; four standard deviations are 9.5.
    expect(seconds.length).toBeGreaterThan(0);
    expect(seconds.length).toBeLessThan(16);
    for (const [i, id] of offered.entries()) if (offered.indexOf(id) < i) expect(i - offered.indexOf(id)).toBeGreaterThan(10);
    expect(records.verdicts(context.runId).every(({ withdrawnAtMs }) => withdrawnAtMs === undefined)).toBe(true);
    expect(agreementSentences(seconds)[0]).toMatch(new RegExp(`^m\\.o\\. judged ${seconds.length} flakes twice: ${seconds.length} alike \\(100 %, \\d+ to 100 %\\), usually \\d+ min apart\\.$`));
  });

  it('come in the same order again for the same records', async () => {
    const first = await judgeOn(() => 2, (id) => id === 'T-70');
    const other = openRecords(mkdtempSync(join(folder, 'again-')));
    try {
      const opened = beginNight(other, tinyFiles(), 0);
      records.close();
      records = other;
      context = { ...context, ...opened, records };
      other.updateFlakes(opened.runId, Array.from({ length: count }, (_, n) => flake(n)));
      board.show(runView(context, chipFrames(context), 0), [], recordedShelf({ ...context, records }, chipFrames(context)), []);
      open();
      expect(await judgeOn(() => 2, (id) => id === 'T-70')).toEqual(first);
    } finally {
      records = other;
    }
  });

  it('look new when they come again: no verdict of theirs is on the board or in a message, as with one that is new', async () => {
    const id = await toTheFirstAgain();
    expect(shown(id)).toBeUndefined();
    expect(board.snapshot().flakes.find(({ flake: each }) => each.id === id)?.verdicts).toBeUndefined();
    expect(told.at(-1)).toMatchObject({ type: 'flakes', changed: [{ flake: { id } }], removed: [] });
    const keysOfAgain = told.at(-1);
    judging.next('m.o.');
    const fresh = told.at(-1);
    expect(Object.keys((keysOfAgain as Extract<FeedMessage, { type: 'flakes' }>).changed[0] ?? {})).toEqual(Object.keys((fresh as Extract<FeedMessage, { type: 'flakes' }>).changed[0] ?? {}));
    // Passed over, its verdict is back.
    expect(shown(id)).toEqual([2]);
  });

  it('are kept beside the first verdict, which stands, and calibrate nothing', async () => {
    const id = await toTheFirstAgain();
    const before = records.verdicts(context.runId);
    const events = records.events(context.runId).length;
    expect(await give(said(id, 3))).toBe(true);
    expect(records.verdicts(context.runId)).toEqual(before);
    expect(records.events(context.runId).length).toBe(events);
    expect(records.labels({ opticalPath: 'survey', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 }).map(({ layers }) => layers)).toEqual(before.map(() => 2));
    expect(records.secondVerdicts(context.runId)).toMatchObject([{ layers: 3, initials: 'm.o.', source: 'blindEye', first: { layers: 2 }, firstSeq: before.find(({ flakeId }) => flakeId === id)?.seq }]);
    // What was just given is shown until the person goes on; then the first again.
    expect(shown(id)).toEqual([3]);
    judging.next('m.o.');
    expect(shown(id)).toEqual([2]);
    expect(agreementSentences(records.secondVerdicts())[0]).toMatch(/^m\.o\. judged 1 flake twice: 0 alike \(0 %, 0 to 79 %\), usually \d+ min apart\.$/);
  });

  it('may be corrected and taken back like any other', async () => {
    const id = await toTheFirstAgain();
    expect(await codeOf(() => judging.withdraw(id, 0))).toBe('noSuchVerdict');
    await give(said(id, 3));
    await give(said(id, 2));
    expect(records.secondVerdicts(context.runId).map(({ layers, withdrawnAtMs }) => [layers, withdrawnAtMs === undefined])).toEqual([[3, false], [2, true]]);
    expect(judging.withdraw(id, 0)).toBe(true);
    expect(shown(id)).toBeUndefined();
    expect(agreementSentences(records.secondVerdicts())).toEqual([]);
    expect(records.verdicts(context.runId).find(({ flakeId }) => flakeId === id)?.withdrawnAtMs).toBeUndefined();
    // And a verdict of another flake is nothing of this.
    expect(judging.withdraw('T-0' === id ? 'T-1' : 'T-0', 0)).toBe(false);
  });

  it('are only those that the same person judged by eye', async () => {
    for (let n = 0; n < count; n++) await give(said(`T-${n}`, 2, n % 2 === 0 ? { source: 'afm' } : { initials: 'e.k.' }));
    expect(judging.next('m.o.')).toBeUndefined();
    const own = judging.next('e.k.');
    expect(records.verdicts(context.runId).find(({ flakeId }) => flakeId === own)?.initials).toBe('e.k.');
  });

  it('stay hidden while another person judges another flake', async () => {
    const id = await toTheFirstAgain();
    await give(said('T-119', 1, { initials: 'e.k.' }));
    expect(shown(id)).toBeUndefined();
    expect(await give(said(id, 2))).toBe(true);
  });

  it('take a Raman number as what it is, not as a second look', async () => {
    const id = await toTheFirstAgain();
    expect(await give(said(id, 1, { source: 'raman' }))).toBe(false);
    expect(shown(id)).toEqual([1]);
    expect(records.secondVerdicts()).toEqual([]);
  });

  it('come last once they were passed over, and not while their verdict is being written', () => {
    expect(judging.next('m.o.')).toBe('T-0');
    expect(judging.next('m.o.')).toBe('T-1');
    expect(judging.give(said('T-1'))).toBe(false);
    expect(judging.next('m.o.')).toBe('T-2');
  });
});
