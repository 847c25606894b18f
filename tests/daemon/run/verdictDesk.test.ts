import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { opticalPathFor } from '../../../daemon/config/resolve.ts';
import { NightjarError, sentenceFor } from '../../../daemon/errors/index.ts';
import { openRecords } from '../../../daemon/records/index.ts';
import type { RecordsStore } from '../../../daemon/records/index.ts';
import { NightBoard } from '../../../daemon/run/board.ts';
import type { NightToRead } from '../../../daemon/run/bookContext.ts';
import { recordedShelf } from '../../../daemon/run/flakeShelf.ts';
import { beginNight } from '../../../daemon/run/openNight.ts';
import type { Recalibrate, RecalibrationRequest } from '../../../daemon/run/recalibration.ts';
import { VerdictDesk } from '../../../daemon/run/verdictDesk.ts';
import { chipFrames, runView } from '../../../daemon/run/views.ts';
import type { GivenVerdict } from '../../../daemon/server/index.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { fitLadder } from '../../../planner/layers/ladder.ts';
import { instantClock } from '../../support/instantClock.ts';
import { tinyFiles } from '../../support/tinyFiles.ts';

/**
 * Protects: what one person says of one chip calibrates every chip alike of the night and no other, one piece of work at a time, and all
 * of it or nothing is kept. The fit itself is not looked at here: a stand-in remembers what it was asked.
 */

let folder = '';
let records: RecordsStore;
let context: NightToRead;
let board: NightBoard;
let asked: RecalibrationRequest[];
const scanning = new Set<string>();

function flake(id: string, chip: string): Flake {
  const outlineUm = [{ xUm: 0, yUm: 0 }, { xUm: 9, yUm: 0 }, { xUm: 9, yUm: 9 }, { xUm: 0, yUm: 9 }];
  const call = { layers: 1, probability: 0.9, probabilities: [0, 0.9, 0.1], misfit: 1 };
  const terrace = { outlineUm, areaUm2: 81, contrast: [0.09, 0.08, 0], contrastError: [0.01, 0.01, 0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm: 9, inscribedCentreUm: { xUm: 4, yUm: 4 }, saturatedShare: 0, call };
  return { id, chip, bestTile: 0, tiles: [0], centreUm: { xUm: 4, yUm: 4 }, terraces: [terrace], verdict: 'flagged', layers: 1, usableUm: 9, areaUm2: 81, rank: 1 };
}

const said = (flakeId: string, layers = 2): GivenVerdict => ({ flakeId, terrace: 0, layers, source: 'afm', initials: 'm.o.' });
const codeOf = (work: Promise<unknown>): Promise<string> => work.then(() => 'nothing', (error: unknown) => sentenceFor(error).code);

/** Remembers what it is asked, and gives every flake a new rank. */
const standIn: Recalibrate = async (request) => {
  asked.push(request);
  const { chip: _, labelled = [], material, oxideNm, numericalAperture, lamp } = request.context;
  const ladder = fitLadder({ material, oxideNm, numericalAperture, lamp: lamp === 'unknown' ? 'halogen' : lamp, channels: 3 }, []);
  return { ladder: { ...ladder, labelled: labelled.length }, changed: request.flakes.map((each) => ({ ...each, rank: 10 + labelled.length })) };
};

function desk(recalibrate: Recalibrate = standIn): VerdictDesk {
  return new VerdictDesk({ context, board, clock: instantClock(1_790_000_000_000), recalibrate, mayReread: (chip) => !scanning.has(chip) });
}

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightjar-desk-'));
  records = openRecords(folder);
  const files = tinyFiles((_, sheet) => {
    const [one] = sheet.chips;
    if (!one) return;
    const at = (name: string, xUm: number, oxideNm: number) => ({ ...one, name, oxideNm, outline: { rectangle: { ...one.outline.rectangle, centreUm: [xUm, 20_000] } } });
    sheet.chips.splice(0, 1, at('A', 20_000, 290), at('B', 30_000, 290), at('C', 40_000, 300));
  });
  const opened = beginNight(records, files, 0);
  context = { ...opened, records, path: opticalPathFor(opened.sheet.opticalPath, opened.config) };
  board = new NightBoard();
  const flakes = ['A', 'B', 'C'].map((chip) => flake(`${chip}-1`, chip));
  records.updateFlakes(opened.runId, flakes);
  const frames = chipFrames(context);
  board.show(runView(context, frames, 0), [], recordedShelf(context, frames), []);
  asked = [];
  scanning.clear();
});
afterEach(() => {
  records.close();
  rmSync(folder, { recursive: true, force: true });
});

describe('what a person says of a chip', () => {
  it('is fitted on every chip of the same light, material and oxide, and on no other', async () => {
    await desk().give(said('A-1'));
    expect(asked.map(({ context: { chip, labelled } }) => [chip, labelled])).toEqual(['A', 'B'].map((chip) => [chip, [{ contrast: [0.09, 0.08, 0], contrastError: [0.01, 0.01, 0.01], layers: 2, source: 'afm' }]]));
    expect(records.flakes(context.runId).map(({ id, rank }) => [id, rank])).toEqual([['A-1', 11], ['B-1', 11], ['C-1', 1]]);
    expect(Object.keys(board.snapshot().run?.calibrations ?? {})).toEqual(['A', 'B']);
  });

  it('leaves a chip alone that is being scanned: it is kept, and says when it will count', async () => {
    scanning.add('A').add('B');
    await desk().give(said('A-1'));
    expect(asked).toEqual([]);
    expect(records.verdicts(context.runId).length).toBe(1);
    expect(board.snapshot().events.at(-1)?.text).toBe('m.o. gave A-1 2 layers (AFM). It counts when the chip is next read again.');
    expect(records.events(context.runId).at(-1)).toEqual(board.snapshot().events.at(-1));
  });

  it('is taken together with what others say meanwhile: one more fit, not one for each', async () => {
    const one = desk();
    await Promise.all([one.give(said('A-1')), one.give(said('B-1', 1)), one.give(said('C-1')), one.give(said('B-1', 3))]);
    // The first alone on A and B; then the next two together on A, B and C; then the last, which speaks of B's terrace again.
    expect(asked.map(({ context: { chip, labelled } }) => `${chip}${labelled?.length ?? 0}`)).toEqual(['A1', 'B1', 'A2', 'B2', 'C1', 'A2', 'B2']);
    expect(records.verdicts(context.runId).map(({ flakeId, layers, withdrawnAtMs }) => [flakeId, layers, withdrawnAtMs === undefined])).toEqual([['A-1', 2, true], ['B-1', 1, false], ['C-1', 2, true], ['B-1', 3, true]]);
  });

  it('is kept by nobody when the fit fails, and the next one is heard all the same', async () => {
    let fails = true;
    const one = desk((request) => (fails ? Promise.reject(new NightjarError('workerLost', { exitCode: 1 })) : standIn(request)));
    expect(await codeOf(one.give(said('A-1')))).toBe('workerLost');
    expect([records.verdicts(context.runId), board.flake('A-1')?.verdicts]).toEqual([[], undefined]);
    fails = false;
    expect(await codeOf(one.give(said('A-1')))).toBe('nothing');
    expect(board.flake('A-1')?.verdicts?.length).toBe(1);
  });

  it('does not stop others by being wrong', async () => {
    const one = desk();
    expect(await Promise.all([codeOf(one.give(said('gone'))), codeOf(one.withdraw('A-1', 0)), codeOf(one.give(said('A-1')))])).toEqual(['noSuchFlake', 'noSuchVerdict', 'nothing']);
  });

  it('is counted later for a chip that was being scanned, once, and nothing is done where nothing is behind', async () => {
    const one = desk();
    await one.catchUp();
    expect([asked, board.snapshot().events]).toEqual([[], []]);
    scanning.add('A').add('B');
    await one.give(said('A-1'));
    scanning.clear();
    await one.catchUp();
    await one.catchUp();
    expect(asked.map(({ context: { chip, labelled } }) => `${chip}${labelled?.length ?? 0}`)).toEqual(['A1', 'B1']);
    expect(records.flakes(context.runId).map(({ rank }) => rank)).toEqual([11, 11, 1]);
    expect(board.snapshot().events.at(-1)?.text).toBe('A, B: read again with the layer numbers that people have given since. 2 flakes are read otherwise.');
  });
});
