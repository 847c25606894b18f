import { shiftNear } from '../../planner/frames/calibration/shiftNear.ts';
import { fitSlack, takeUpUm, type SlackFit } from '../../planner/frames/calibration/slack.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { apply2, type StagePoint } from '../../planner/units/index.ts';
import { begin, goTo, learnLevel, look, refuse, takeUpFor, type Bench } from './bench.ts';
import type { Level } from './level.ts';
import { checkMatrix } from './checkMatrix.ts';

/** Standard error that visits go on for: a quarter of the half um that the slack is to be known to. */
const wantedUm = 0.12;
const allowedUm = 1;
const leastVisits = 8;
const mostVisits = 60;
/** More slack than this is looked for nowhere. */
const mostPlayUm = 60;
/** Visits that may be lost to pictures that do not match. */
const leastMatched = 0.6;

export interface BacklashCalibration {
  readonly x: SlackFit;
  readonly y: SlackFit;
  /** From each side. */
  readonly visits: number;
  /** `playUm` as the file takes it: never below 0. */
  readonly playUm: readonly [number, number];
  readonly backlashUm: number;
}

/** Where the sample stood at each visit, against the first one. */
interface Visits {
  readonly belowUm: StagePoint[];
  readonly aboveUm: StagePoint[];
  tried: number;
}

/**
 * Measures the slack of both axes: one place, reached from below and from above by turns; what the pictures are apart is the slack. Visits
 * go on until its error is small enough.
 */
export async function calibrateBacklash(bench: Bench): Promise<BacklashCalibration> {
  await begin(bench, 'backlash');
  bench.tell('Learning what stands still on the sensor.');
  const level = await learnLevel(bench);
  const reference = await look(bench, level);
  await checkMatrix(bench, 'backlash', reference, level);
  const visits: Visits = { belowUm: [], aboveUm: [], tried: 0 };
  let fits: { readonly x: SlackFit; readonly y: SlackFit } | undefined;
  bench.tell('Coming to the same place from below and from above by turns.');
  for (let n = 0; n < mostVisits; n++) {
    await visit(bench, 'above', reference, level, visits);
    await visit(bench, 'below', reference, level, visits);
    fits = fitBoth(visits);
    if (n + 1 >= leastVisits && (!fits || Math.max(fits.x.errorUm, fits.y.errorUm) <= wantedUm)) break;
  }
  return judged(visits, fits);
}

function fitBoth({ belowUm, aboveUm }: Visits) {
  const x = fitSlack(belowUm.map((p) => p.xUm), aboveUm.map((p) => p.xUm));
  const y = fitSlack(belowUm.map((p) => p.yUm), aboveUm.map((p) => p.yUm));
  return x && y && { x, y };
}

async function visit(bench: Bench, side: 'below' | 'above', reference: GreyPicture, level: Level, visits: Visits): Promise<void> {
  if (side === 'below') await goTo(bench, bench.atUm);
  else await comeFromAbove(bench);
  visits.tried++;
  const { cameraToStageUm, pixelUm } = bench.path;
  const match = shiftNear(reference, await look(bench, level), { colPx: 0, rowPx: 0, withinPx: mostPlayUm / pixelUm });
  if (!match.ok) return;
  // The picture moves against the sample.
  const [dx, dy] = apply2(cameraToStageUm, match.shift.colPx, match.shift.rowPx);
  (side === 'below' ? visits.belowUm : visits.aboveUm).push({ xUm: -dx, yUm: -dy });
}

async function comeFromAbove(bench: Bench): Promise<void> {
  const { instrument, atUm, signal, config } = bench;
  const passUm = takeUpFor(bench);
  await instrument.stage.moveTo({ xUm: atUm.xUm + passUm, yUm: atUm.yUm + passUm }, { signal });
  await instrument.stage.moveTo(atUm, { signal });
  await instrument.clock.sleep(config.stage.settleMs, signal);
}

function judged({ belowUm, aboveUm, tried }: Visits, fits: { readonly x: SlackFit; readonly y: SlackFit } | undefined): BacklashCalibration {
  const matched = belowUm.length + aboveUm.length;
  const least = Math.ceil(leastMatched * tried);
  if (!fits || matched < least) return refuse('backlash', { code: 'tooLittleTexture', matched, of: tried, least });
  const { x, y } = fits;
  const error = Math.max(x.errorUm, y.errorUm);
  if (error > allowedUm) refuse('backlash', { code: 'tooUncertain', what: 'the slack', error, allowed: allowedUm, unit: 'um' });
  const playUm = [x, y].map((axis) => Math.max(0, Math.round(axis.playUm * 10) / 10));
  return { x, y, visits: Math.min(belowUm.length, aboveUm.length), playUm: [playUm[0] ?? 0, playUm[1] ?? 0], backlashUm: takeUpUm([x, y]) };
}
