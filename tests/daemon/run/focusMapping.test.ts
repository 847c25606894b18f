import { describe, expect, it, vi } from 'vitest';
import { opticalPathFor } from '../../../daemon/config/resolve.ts';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { travelLimitsFor } from '../../../daemon/run/context.ts';
import { mapFocus, type MappedFocus, type MappingContext } from '../../../daemon/run/focusMapping.ts';
import { planNight } from '../../../daemon/run/planNight.ts';
import type { PlannedChip } from '../../../planner/plan/types.ts';
import type { Instrument } from '../../../drivers/interfaces/index.ts';
import { guardInstrument } from '../../../drivers/safety/gate.ts';
import { zAtUm } from '../../../planner/focus/surface.ts';
import { distanceUm, type StagePoint } from '../../../planner/units/index.ts';
import { CLEAN, createSimulatedMicroscope, findTray, makeTray, type ChipWish, type SimulatedMicroscopeOptions } from '../../../simulators/index.ts';
import { tinyFiles, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs });

/** Protects: a chip's focus is mapped whatever it shows, or the refusal says why. With the simulator's own pictures. */

const signal = new AbortController().signal;
const STOP_OFFSET_UM = 14;
/** Tilted by 3 mrad, in focus at 1004 um in the middle. */
const surface = { focusUm: 1004, tiltXMrad: 3, tiltYMrad: 0, bowUm: 0 };
const chipOf = (wish: Partial<ChipWish>): ChipWish => ({ name: 'T-01', centreUm: { xUm: 20_000, yUm: 20_000 }, widthUm: 900, heightUm: 800, angleDeg: 0, surface, ...wish });
const blank = chipOf({ flakesPerMm2: 0, dirt: CLEAN });
const still = { warmUpUm: 0, driftUmPerH: 0, repeatabilityUm: 0, hysteresisUm: 0 };

/** A microscope over one chip, and the night's context for it; the lamp is on. */
async function contextFor(wish: ChipWish, change: TinyChange = () => undefined, more: Partial<SimulatedMicroscopeOptions> = {}): Promise<{ context: MappingContext; chip: PlannedChip }> {
  const files = tinyFiles((instrument, sheet) => {
    for (const { outline } of sheet.chips) outline.rectangle.angleDeg = 0;
    change(instrument, sheet);
  });
  const { config, sheet } = files;
  const path = opticalPathFor('survey', config);
  const { limits } = config;
  const { instrument: raw } = createSimulatedMicroscope({
    seed: 3,
    tray: makeTray('one', [wish]),
    camera: config.camera,
    objectives: [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: path.cameraToStageUm }],
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, ...still },
    startMs: 1_700_000_000_000,
    ...more,
  });
  const instrument = guardInstrument(raw, limits);
  await instrument.lamp.setIntensity(0.6);
  const plan = planNight(sheet, config);
  const [chip] = plan.chips;
  if (!chip) throw new Error('no chip');
  return { context: { instrument, path, plan, sheet, config, travel: travelLimitsFor(config) }, chip };
}

const map = ({ context, chip }: { context: MappingContext; chip: PlannedChip }): Promise<MappedFocus> => mapFocus(context, chip, { point: () => undefined, frame: () => undefined }, signal);
/** The truth: 3 mrad along x. */
const trueUm = (xUm: number): number => 1004 + 0.003 * (xUm - 20_000);

function expectTrue(mapped: MappedFocus, withinUm: number): void {
  for (const xUm of [19_700, 20_000, 20_300]) expect(Math.abs(zAtUm(mapped.surface, { xUm, yUm: 20_000 }) - trueUm(xUm))).toBeLessThan(withinUm);
}

describe('mapping a chip', () => {
  it('with flakes: each point holds for the place of what was focused on', async () => {
    const mapped = await map(await contextFor(chipOf({ flakesPerMm2: 30 })));
    expect(mapped.measured.length).toBeGreaterThanOrEqual(4);
    for (const { point } of mapped.measured) expect(Math.abs(point.zUm - trueUm(point.atUm.xUm))).toBeLessThan(0.6);
    expectTrue(mapped, 0.6);
  });

  it('that is blank: by the image of the field stop, with its offset, and the stop is left open', async () => {
    const made = await contextFor(blank, (instrument) => Object.assign(instrument.focus, { fieldStop: { driver: 'simulated', offsetUm: STOP_OFFSET_UM } }), { fieldStop: { offsetUm: STOP_OFFSET_UM } });
    const mapped = await map(made);
    expect(mapped.blank).toBe(0);
    expect(mapped.measured.every(({ place }) => place.byStop === true)).toBe(true);
    expectTrue(mapped, 0.6);
    expect(await made.context.instrument.fieldStop?.opening()).toBe(1);
  });

  it('that is blank, without a field stop: at the edge of the chip', async () => {
    const mapped = await map(await contextFor(blank));
    expect(mapped.measured.length).toBeGreaterThanOrEqual(3);
    for (const { point } of mapped.measured) {
      const toEdgeUm = Math.min(Math.abs(Math.abs(point.atUm.xUm - 20_000) - 450), Math.abs(Math.abs(point.atUm.yUm - 20_000) - 400));
      expect(toEdgeUm).toBeLessThan(90);
    }
    expectTrue(mapped, 1);
  });

  it('sees that focus jumped while it measured, and measures all again', async () => {
    const made = await contextFor(chipOf({ flakesPerMm2: 30 }), undefined, { focus: { zMinUm: 900, zMaxUm: 8000, startAtUm: 8000, ...still, stepUm: 8, stepAfterMs: 18_000 } });
    const mapped = await map(made);
    expect(mapped.jumpUm).toBeGreaterThan(7);
    expect(mapped.jumpUm).toBeLessThan(9);
  });
});

/** The same instrument, whose focus drive slips by so much whenever the stage stands at this place for the first time. */
function slipping(instrument: Instrument, place: StagePoint, slipUm: number): Instrument {
  let [visits, slip] = [0, 0];
  const { stage, focus } = instrument;
  const moveStage: Instrument['stage']['moveTo'] = async (target, options) => {
    const isThere = distanceUm(target, place) < 2;
    if (isThere) visits++;
    slip = isThere && visits === 1 ? slipUm : 0;
    return stage.moveTo(target, options);
  };
  return {
    ...instrument,
    stage: { travel: stage.travel, position: () => stage.position(), state: () => stage.state(), moveTo: moveStage, home: (signal) => stage.home(signal), stop: () => stage.stop(), close: () => stage.close() },
    focus: {
      zMinUm: focus.zMinUm,
      zMaxUm: focus.zMaxUm,
      position: async () => (await focus.position()) - slip,
      moveTo: async (zUm, options) => (await focus.moveTo(zUm + slip, options)) - slip,
      stop: () => focus.stop(),
      close: () => focus.close(),
    },
  };
}

describe('a small chip, all of which nearly every frame shows', () => {
  it('is measured at as many places as points, not again and again where edges are strongest', async () => {
    const [tray, wide] = [findTray('tiny'), { widthPx: 640, heightPx: 512 }];
    if (!tray) throw new Error('no tiny tray');
    for (const seed of [103, 115]) {
      const made = await contextFor(chipOf({}), (instrument) => Object.assign(instrument.camera, wide), { tray, seed });
      const places = (await map(made)).measured.map(({ point }) => point.atUm);
      expect(places.length).toBeGreaterThanOrEqual(4);
      for (const [i, one] of places.entries()) for (const other of places.slice(0, i)) expect(distanceUm(one, other), `seed ${seed}`).toBeGreaterThan(20);
    }
  });
});

describe('a point that went wrong', () => {
  it('is measured again, and is then as good as the others', async () => {
    const made = await contextFor(chipOf({ flakesPerMm2: 60 }), (_, sheet) => Object.assign(sheet.focus, { pointsPerChip: 5, rangeUm: 40 }));
    // Not the point that is measured once more at the end: there a slip would look like a jump.
    const [, , corner] = made.chip.focusPointsUm;
    if (!corner) throw new Error('no corner');
    const mapped = await map({ ...made, context: { ...made.context, instrument: slipping(made.context.instrument, corner, 17) } });
    expect(mapped.again).toBeGreaterThan(0);
    expect(mapped.surface.badPoints).toEqual([]);
    for (const { point } of mapped.measured) expect(Math.abs(point.zUm - trueUm(point.atUm.xUm))).toBeLessThan(0.6);
    expectTrue(mapped, 0.6);
  });
});

describe('refusals', () => {
  it('says where nothing was found, and what to do, with the lamp off', async () => {
    const made = await contextFor(chipOf({ flakesPerMm2: 30 }));
    await made.context.instrument.lamp.setIntensity(0);
    const error: unknown = await map(made).catch((reason: unknown) => reason);
    expect(sentenceFor(error)).toMatchObject({ code: 'focusNotFound' });
    expect(sentenceFor(error).sentence).toMatch(/not found on chip T-01.*20 µm above and below.*focus\.rangeUm/);
  });

  it('says that no height can be reached', async () => {
    const made = await contextFor(blank);
    const config = { ...made.context.config, limits: { ...made.context.config.limits, zMinUm: 1500 } };
    const error: unknown = await map({ ...made, context: { ...made.context, config } }).catch((reason: unknown) => reason);
    expect(sentenceFor(error)).toMatchObject({ code: 'noReachableZ' });
    expect(sentenceFor(error).sentence).toMatch(/nothing within 20 µm.*focus\.expectedUm/);
  });
});
