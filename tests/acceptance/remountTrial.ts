import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import { hasCode } from '../../daemon/errors/index.ts';
import { openRecords } from '../../daemon/records/index.ts';
import { Observatory } from '../../daemon/run/observatory.ts';
import { beginNight, understand, type NightFiles } from '../../daemon/run/openNight.ts';
import { chipFrames } from '../../daemon/run/views.ts';
import { remount } from '../../daemon/wayBack/session.ts';
import { opticalPathFor } from '../../daemon/config/resolve.ts';
import type { InstrumentConfig } from '../../daemon/config/instrument.ts';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Flake } from '../../planner/flakes/types.ts';
import { toChip, toStage, type MarkPair } from '../../planner/frames/chipFrame.ts';
import { distanceUm, type StagePoint } from '../../planner/units/index.ts';
import { randomStream, type Random } from '../../simulators/random.ts';
import { makeWorld } from '../../simulators/world/makeWorld.ts';
import { createSimulatedMicroscope, findTray, type Remounting, type StageBehaviour } from '../../simulators/index.ts';
import { inlinePool } from '../support/inlinePool.ts';
import { instantClock } from '../support/instantClock.ts';
import { tinyTexts } from '../support/tinyFiles.ts';

/** What one remounting came to. The truth is known here and nowhere in the program. */
export interface Trial {
  readonly outcome: 'found' | 'notThisChip' | 'doubtfulMatch' | 'failed';
  /** True distance of the flake from the middle of the view. */
  readonly offUm: number;
  /** True distance at which the marks alone would have left it. */
  readonly marksOffUm: number;
  readonly said: string;
}

const startMs = Date.UTC(2026, 0, 17, 20, 30);
const chipName = 'T-01';
const laidAtUm: StagePoint = { xUm: 20_000, yUm: 20_000 };

/** One instrument: the tiny one, with a stage and a camera of its own. */
interface Machine {
  readonly files: NightFiles;
  readonly stage: Partial<StageBehaviour>;
}

function machine(random: Random, isAnother: boolean, worldSeed: number): Machine {
  const sign = (): number => (random.next() < 0.5 ? -1 : 1);
  const stage = {
    repeatabilityUm: random.between(1, 3),
    backlashUm: random.between(5, 20),
    scaleErrorX: sign() * random.between(0.001, 0.003),
    scaleErrorY: sign() * random.between(0.001, 0.003),
    nonOrthogonalityMrad: sign(),
  };
  // The outline is what a person found by driving to the corners.
  const { xUm, yUm } = reportedOf(laidAtUm, stage);
  const texts = tinyTexts((instrument, sheet) => {
    Object.assign(instrument.camera, { widthPx: 640, heightPx: 512, ...(isAnother ? { pixelPitchUm: 6.9 * random.between(0.85, 1.2) } : {}) });
    Object.assign(instrument.cameraToStage, isAnother ? { rotationDeg: random.between(-180, 180), mirrored: random.next() < 0.5 } : {});
    instrument.simulator.seed = worldSeed;
    instrument.stage.backlashUm = 25;
    instrument.limits.maxLowTravelUm = 3000;
    sheet.focus.rangeUm = 40;
    for (const chip of sheet.chips) chip.outline.rectangle.centreUm = [xUm, yUm];
  });
  return { files: understand(texts.runSheetText, 'sheet', texts.instrumentText, 'instrument'), stage };
}

function microscope(config: InstrumentConfig, stage: Partial<StageBehaviour>, seed: number, remounted?: Remounting) {
  const { magnification, numericalAperture, cameraToStageUm } = opticalPathFor('survey', config);
  const tray = findTray('tiny');
  if (!tray) throw new Error('no tiny tray');
  const { limits, camera } = config;
  return createSimulatedMicroscope({
    seed,
    tray,
    ...(remounted ? { remounted: { [chipName]: remounted } } : {}),
    camera,
    objectives: [{ magnification, numericalAperture, cameraToStageUm }],
    stage: { travel: limits, ...stage },
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm },
    startMs,
  });
}

/**
 * A night on one instrument; then the chip is turned and shifted, laid on the same or another one, found by two marks, and its best flake is
 * gone to. `swapped` lays another chip there instead.
 */
export async function runTrial(number: number, swapped: boolean): Promise<Trial> {
  const random = randomStream(number, 'remount', 'trial');
  const worldSeed = 100 + number;
  const first = machine(random, false, worldSeed);
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-remount-'));
  const records = openRecords(folder);
  try {
    const before = microscope(first.files.config, first.stage, worldSeed);
    const opened = beginNight(records, first.files, startMs);
    const instrument = { instrument: guardInstrument(before.instrument, first.files.config.limits), setPace: () => undefined, counters: () => ({}), close: async () => undefined };
    const observatory = new Observatory({ records, instrument, config: first.files.config, pool: inlinePool(), log: pino({ enabled: false }), waitingClock: instantClock(startMs), freeBytes: async () => 1e12 });
    await observatory.runNight(opened);
    await before.instrument.camera.close();
    before.virtualClock?.close();
    const flake = records.flakes(opened.runId).filter(({ verdict }) => verdict === 'flagged').sort((a, b) => b.rank - a.rank)[0];
    const then = chipFrames(opened).get(chipName);
    if (!flake || !then) return { outcome: 'failed', offUm: NaN, marksOffUm: NaN, said: 'no flake was flagged' };

    const second = machine(random, number % 2 === 1, worldSeed);
    const moved: Remounting = { turnDeg: random.between(-180, 180), shiftUm: { xUm: random.between(-5000, 5000), yUm: random.between(-5000, 5000) } };
    const after = microscope(second.files.config, second.stage, swapped ? worldSeed + 5000 : worldSeed, moved);
    // What both stages get wrong, and how the chip was carried over.
    const truth = new Truth(first.stage, second.stage, moved);
    const marks = [{ xUm: 60, yUm: 40 }, { xUm: 840, yUm: 760 }].map((chipUm): MarkPair => {
      const found = truth.reportedNow(truth.carried(truth.trueThen(toStage(then, chipUm))));
      return { chipUm, stageUm: { xUm: found.xUm + 2 * random.normal(), yUm: found.yUm + 2 * random.normal() } };
    });
    const flakeNow = truth.carried(truePlaceOf(flake, records.flakes(opened.runId), truth, worldSeed));
    const guarded = guardInstrument(after.instrument, second.files.config.limits);
    try {
      const result = await remount(records, second.files.config, guarded, { chip: chipName, marks }, new AbortController().signal);
      const marksFrame = result.found.frame;
      const marksPlace = toStage({ ...marksFrame, originUm: { xUm: marksFrame.originUm.xUm - result.found.offUm.xUm, yUm: marksFrame.originUm.yUm - result.found.offUm.yUm } }, toChip(then, flake.centreUm));
      const offUm = distanceUm(truth.trueNow(await guarded.stage.position()), flakeNow);
      return { outcome: 'found', offUm, marksOffUm: distanceUm(truth.trueNow(marksPlace), flakeNow), said: `likeness ${result.at.likeness.toFixed(2)}` };
    } catch (error) {
      for (const code of ['notThisChip', 'doubtfulMatch'] as const) if (hasCode(error, code)) return { outcome: code, offUm: NaN, marksOffUm: NaN, said: `likeness ${(error.details.likeness ?? 0).toFixed(2)}` };
      return { outcome: 'failed', offUm: NaN, marksOffUm: NaN, said: String(error) };
    } finally {
      await after.instrument.camera.close();
      after.virtualClock?.close();
    }
  } finally {
    records.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

/**
 * Where the middle of a flake, as the program has it, truly lay that night: by the outline of the true flake, since the place of each frame is
 * only known to the stage's repeatability. One that no true flake is like (residue, or cut by the edge of the scan) goes by the others.
 */
function truePlaceOf(flake: Flake, all: readonly Flake[], truth: Truth, worldSeed: number): StagePoint {
  const own = offFrom(flake, truth, worldSeed);
  const others = all.flatMap((other) => offFrom(other, truth, worldSeed) ?? []);
  const { xUm, yUm } = truth.trueThen(flake.centreUm);
  const off = own ?? { xUm: median(others.map((each) => each.xUm)), yUm: median(others.map((each) => each.yUm)) };
  return { xUm: xUm + off.xUm, yUm: yUm + off.yUm };
}

/** How far a true flake lies from where the program has it; undefined where none is like it. */
function offFrom(flake: Flake, truth: Truth, worldSeed: number): StagePoint | undefined {
  const tray = findTray('tiny');
  const [chip] = tray ? makeWorld(worldSeed, tray).chips : [];
  const seen = boxOf(flake.terraces.flatMap(({ outlineUm }) => outlineUm));
  const about = truth.trueThen(seen.middle);
  const like = (chip?.flakes ?? []).map(({ terraces }) => boxOf(terraces[0]?.outlineUm ?? [])).find((box) => distanceUm(box.middle, about) < 12 && Math.abs(box.width - seen.width) < 3 && Math.abs(box.height - seen.height) < 3);
  return like && { xUm: like.middle.xUm - about.xUm, yUm: like.middle.yUm - about.yUm };
}

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[values.length >> 1] ?? 0;
}

function boxOf(points: readonly StagePoint[]): { readonly middle: StagePoint; readonly width: number; readonly height: number } {
  const [xs, ys] = [points.map((p) => p.xUm), points.map((p) => p.yUm)];
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return { middle: { xUm: (x0 + x1) / 2, yUm: (y0 + y1) / 2 }, width: x1 - x0, height: y1 - y0 };
}

/** What the stages get wrong, without their chance: the same as in simulators/devices/simulatedStage.ts, checked by this bench's own sums. */
class Truth {
  private readonly first: Partial<StageBehaviour>;
  private readonly second: Partial<StageBehaviour>;
  private readonly moved: Remounting;

  constructor(first: Partial<StageBehaviour>, second: Partial<StageBehaviour>, moved: Remounting) {
    this.first = first;
    this.second = second;
    this.moved = moved;
  }

  trueThen(reported: StagePoint): StagePoint {
    return trueOf(reported, this.first);
  }

  trueNow(reported: StagePoint): StagePoint {
    return trueOf(reported, this.second);
  }

  reportedNow(place: StagePoint): StagePoint {
    return reportedOf(place, this.second);
  }

  carried(p: StagePoint): StagePoint {
    const turn = (this.moved.turnDeg * Math.PI) / 180;
    const [dx, dy] = [p.xUm - laidAtUm.xUm, p.yUm - laidAtUm.yUm];
    return { xUm: laidAtUm.xUm + this.moved.shiftUm.xUm + dx * Math.cos(turn) - dy * Math.sin(turn), yUm: laidAtUm.yUm + this.moved.shiftUm.yUm + dx * Math.sin(turn) + dy * Math.cos(turn) };
  }
}

function trueOf(reported: StagePoint, stage: Partial<StageBehaviour>): StagePoint {
  const { scaleErrorX = 0, scaleErrorY = 0, nonOrthogonalityMrad = 0 } = stage;
  const alongY = reported.yUm * (1 + scaleErrorY);
  return { xUm: reported.xUm * (1 + scaleErrorX) + (alongY * nonOrthogonalityMrad) / 1000, yUm: alongY };
}

/** By turns: the error is small against the place, so a few rounds are exact to a nm. */
function reportedOf(place: StagePoint, stage: Partial<StageBehaviour>): StagePoint {
  let reported = place;
  for (let round = 0; round < 4; round++) {
    const at = trueOf(reported, stage);
    reported = { xUm: reported.xUm + place.xUm - at.xUm, yUm: reported.yUm + place.yUm - at.yUm };
  }
  return reported;
}
