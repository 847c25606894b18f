import { afterEach, describe, expect, it, vi } from 'vitest';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import type { FlakeView } from '../../../daemon/server/messages.ts';
import type { GivenVerdict } from '../../../daemon/server/index.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a person's number refines the reading of its chip at once, is kept beside the prediction, and leaves no trace in the reading when it is taken back. Laws of our own. */

const nights = new TinyNights();
afterEach(() => nights.clear());

async function finished(): Promise<TinyNight> {
  const night = nights.make({ files: tinyFiles(fewTiles) });
  expect((await night.run()).phase).toBe('finished');
  return night;
}

function bestFlake(night: TinyNight): Flake {
  const [best] = night.observatory.board.flagged();
  if (!best) throw new Error('nothing was flagged');
  return best;
}

const shown = (night: TinyNight, id: string): FlakeView | undefined => night.observatory.board.flake(id);

/** The terrace that the flake's layer number stands for. */
const counted = (flake: Flake): number => flake.terraces.findIndex((terrace) => terrace.call.layers === flake.layers);

function raman(flake: Flake, layers: number): GivenVerdict {
  return { flakeId: flake.id, terrace: counted(flake), layers, source: 'raman', initials: 'm.o.' };
}

const codeOf = (work: Promise<unknown>): Promise<string> => work.then(() => 'nothing', (error: unknown) => sentenceFor(error).code);

/** What each terrace of a night is read as. */
const readings = (flakes: readonly Flake[]): readonly unknown[] => flakes.map(({ id, verdict, layers, terraces }) => [id, verdict, layers, terraces.map(({ call }) => [call.layers, call.probability])]);

/** A flake is only read anew when its probabilities change by half a per cent: so near, each to its own ladder, may both sides be. */
function nearly(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(nearly);
  return typeof value === 'number' ? expect.closeTo(value, 1.7) : value;
}

describe('a layer number that a person gives', () => {
  it('is kept beside the prediction, counts as a label of its chip, and changes the reading in the records as on the page', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const { records, opened: { runId }, observatory } = night;
    const before = flake.terraces[counted(flake)]?.call;
    const layers = flake.layers ?? NaN;
    await observatory.giveVerdict(raman(flake, layers));
    const view = shown(night, flake.id);
    expect(view?.verdicts).toEqual([expect.objectContaining({ terrace: counted(flake), layers, source: 'raman', initials: 'm.o.', predictedLayers: before?.layers, predictedProbability: before?.probability })]);
    expect(observatory.board.snapshot().run?.calibrations['T-01']?.labels).toBe(1);
    expect(records.chips(runId)[0]?.calibration).toEqual(observatory.board.snapshot().run?.calibrations['T-01']);
    expect(readings(records.flakes(runId))).toEqual(readings([...observatory.board.flakesOf('T-01')]));
    expect(view?.flake.terraces[counted(flake)]?.call.layers).toBe(layers);
    expect(observatory.board.snapshot().events.at(-1)?.text).toMatch(/^m\.o\. gave .* \d layers? \(Raman\)\. .* read otherwise\.$/);
  });

  it('leaves every reading as it was before when it is taken back, and its history in the records', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const terrace = counted(flake);
    const { records, opened: { runId }, observatory } = night;
    const before = readings([...observatory.board.flakesOf('T-01')]);
    await observatory.giveVerdict(raman(flake, flake.layers === 3 ? 2 : 3));
    expect(readings([...observatory.board.flakesOf('T-01')])).not.toEqual(before);
    await observatory.withdrawVerdict(flake.id, terrace);
    expect(readings([...observatory.board.flakesOf('T-01')])).toEqual(nearly(before));
    expect(shown(night, flake.id)?.verdicts).toBeUndefined();
    expect(observatory.board.snapshot().run?.calibrations['T-01']?.labels).toBe(0);
    expect(records.verdicts(runId).map(({ layers, withdrawnAtMs }) => [layers, withdrawnAtMs !== undefined])).toEqual([[flake.layers === 3 ? 2 : 3, true]]);
    expect(await codeOf(observatory.withdrawVerdict(flake.id, terrace))).toBe('noSuchVerdict');
  });

  it('given again takes the place of the first, also when both are asked for at once', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const { records, opened: { runId }, observatory } = night;
    await Promise.all([observatory.giveVerdict(raman(flake, 2)), observatory.giveVerdict(raman(flake, 3))]);
    expect(shown(night, flake.id)?.verdicts?.map(({ layers }) => layers)).toEqual([3]);
    expect(records.verdicts(runId).map(({ layers, withdrawnAtMs }) => [layers, withdrawnAtMs !== undefined])).toEqual([[2, true], [3, false]]);
  });

  it('is refused for what is not there, and then nothing is kept', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const { records, opened: { runId }, observatory } = night;
    expect(await codeOf(observatory.giveVerdict({ ...raman(flake, 1), flakeId: 'none' }))).toBe('noSuchFlake');
    expect(await codeOf(observatory.giveVerdict({ ...raman(flake, 1), terrace: 99 }))).toBe('noSuchTerrace');
    expect(await codeOf(observatory.withdrawVerdict(flake.id, 0))).toBe('noSuchVerdict');
    expect(records.verdicts(runId)).toEqual([]);
  });

  it('is kept at once while its chip is being scanned, and shows again when the night is opened from the records', async () => {
    const night = nights.make({ files: tinyFiles(fewTiles) });
    const { records, opened: { runId }, observatory } = night;
    let said: Promise<void> | undefined;
    observatory.board.subscribe((message) => {
      const [flake] = message.type === 'flakes' && !said ? message.changed.filter((view) => view.flake.verdict === 'flagged') : [];
      if (flake) said = observatory.giveVerdict({ ...raman(flake.flake, 1), source: 'blindEye' });
    });
    expect((await night.run()).phase).toBe('finished');
    await said;
    const [verdict] = records.verdicts(runId);
    expect(verdict).toMatchObject({ source: 'blindEye', under: { opticalPath: 'survey', material: 'graphene', substrate: 'sio2-si', oxideNm: 290 } });
    // It came while the chip was scanned: at the end of the night at the latest it counts.
    expect(observatory.board.snapshot().run?.calibrations['T-01']?.labels).toBe(1);
    observatory.showNight(night.opened);
    const views = observatory.board.snapshot().flakes.flatMap((view) => view.verdicts ?? []);
    expect(views.map(({ layers, source }) => [layers, source])).toEqual([[1, 'blindEye']]);
  });

  it('calibrates the nights that come after it', async () => {
    const before = await finished();
    const flake = bestFlake(before);
    await before.observatory.giveVerdict(raman(flake, flake.layers ?? 1));
    await before.close();
    const after = nights.make({ folder: before.folder, files: tinyFiles(fewTiles) });
    expect((await after.run()).phase).toBe('finished');
    expect(after.observatory.board.snapshot().run?.calibrations['T-01']?.labels).toBe(1);
    expect(after.records.chips(after.opened.runId)[0]?.calibration?.labels).toBe(1);
  });
});
