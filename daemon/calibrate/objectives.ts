import type { Region } from '../../drivers/interfaces/index.ts';
import { fitParfocal, type HeightReading, type ParfocalFit } from '../../planner/frames/calibration/heights.ts';
import { findPatch, resampledDown } from '../../planner/frames/calibration/magnified.ts';
import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { apply2, type PixelPoint, type StagePoint } from '../../planner/units/index.ts';
import type { OpticalPath } from '../config/resolve.ts';
import { begin, depthOfFieldFor, focusHere, learnLevel, look, refuse, setUp, type Bench } from './bench.ts';
import type { Level } from './level.ts';
import { meanOf } from './mean.ts';

/** Picture centres of objectives that are further apart than this are not sought. */
const mostParcentricUm = 120;
/** Readings of both objectives in this order: a steady drift then falls out, and each change of objective is made anew. */
const order = ['other', 'first', 'first', 'other', 'other', 'first', 'first', 'other'] as const;
/** Searched about a height that is already known, in depths of field. */
const nearDepths = 3;

export interface ObjectiveCalibration {
  readonly first: OpticalPath;
  readonly other: OpticalPath;
  readonly parfocal: ParfocalFit;
  /** As the file takes them, against the objective whose own offsets are 0. */
  readonly parfocalUm: number;
  readonly parcentricUm: StagePoint;
  /** Standard error of the picture centre on one axis. */
  readonly parcentricErrorUm: number;
}

/** What one objective showed at one reading. */
interface Reading extends HeightReading {
  readonly picture: GreyPicture;
}

/**
 * Parfocal and parcentric offset of another objective against the bench's own: both focus by turns on the same place, the weaker one on
 * the part of its field that the stronger one sees, and the stronger one's picture is sought in the weaker one's. The stage stands still.
 */
export async function calibrateObjective(bench: Bench, other: OpticalPath): Promise<ObjectiveCalibration> {
  const { path: first } = bench;
  const [weaker, stronger] = first.magnification <= other.magnification ? [first, other] : [other, first];
  const zUm = await begin(bench, 'objectives');
  bench.tell('Learning what stands still on the sensor.');
  const level = await learnLevel(bench);
  const wide = await look(bench, level);
  bench.tell(`Changing to ${other.objective} at the safe height, and focusing.`);
  await setUp(bench, other);
  const otherZUm = await focusHere(bench, 'objectives', other, { centreUm: zUm + other.parfocalUm - first.parfocalUm, rangeUm: bench.focusRangeUm });
  const near = await look(bench, level);
  const [ofFirst, ofOther] = [wide, near];
  const middlePx = match(weaker, stronger, weaker === first ? ofFirst : ofOther, weaker === first ? ofOther : ofFirst);
  const readings = await readByTurns(bench, other, { zUm, otherZUm, level, region: seenBy(bench, weaker, stronger, middlePx), weaker });
  return concluded(bench, other, weaker, stronger, readings);
}

/** Where the middle of the stronger objective's picture lies in the weaker one's, off its middle. */
function match(weaker: OpticalPath, stronger: OpticalPath, wide: GreyPicture, near: GreyPicture): PixelPoint {
  const patch = resampledDown(near, stronger.pixelUm / weaker.pixelUm);
  const found = patch && findPatch(patch, wide, mostParcentricUm / weaker.pixelUm);
  return found ?? refuse('objectives', { code: 'notFoundAgain', withinUm: mostParcentricUm, objective: stronger.objective });
}

/** The part of the weaker objective's field that the stronger one sees, on even pixels and within the sensor. */
function seenBy({ config: { camera } }: Bench, weaker: OpticalPath, stronger: OpticalPath, middlePx: PixelPoint): Region {
  const ratio = stronger.pixelUm / weaker.pixelUm;
  const along = (sidePx: number, offPx: number) => {
    const size = Math.min(sidePx & ~1, 2 * Math.ceil((ratio * sidePx) / 2));
    return { size, start: 2 * Math.round(Math.min(sidePx - size, Math.max(0, sidePx / 2 + offPx - size / 2)) / 2) };
  };
  const [col, row] = [along(camera.widthPx, middlePx.colPx), along(camera.heightPx, middlePx.rowPx)];
  return { colPx: Math.min(col.start, camera.widthPx - col.size), rowPx: Math.min(row.start, camera.heightPx - row.size), widthPx: col.size, heightPx: row.size };
}

interface Known {
  readonly zUm: number;
  readonly otherZUm: number;
  readonly level: Level;
  readonly region: Region;
  readonly weaker: OpticalPath;
}

async function readByTurns(bench: Bench, other: OpticalPath, known: Known): Promise<readonly Reading[]> {
  const readings: Reading[] = [];
  bench.tell(`Focusing ${order.length} times, with both objectives by turns.`);
  for (const which of order) {
    const isOther = which === 'other';
    const path = isOther ? other : bench.path;
    await setUp(bench, path);
    const wish = { centreUm: isOther ? known.otherZUm : known.zUm, rangeUm: nearDepths * depthOfFieldFor(path) };
    const zUm = await focusHere(bench, 'objectives', path, path === known.weaker ? { ...wish, region: known.region } : wish);
    readings.push({ isOther, atMs: bench.instrument.clock.now(), zUm, picture: await look(bench, known.level) });
  }
  return readings;
}

function concluded(bench: Bench, other: OpticalPath, weaker: OpticalPath, stronger: OpticalPath, readings: readonly Reading[]): ObjectiveCalibration {
  const { path: first } = bench;
  const parfocal = fitParfocal(readings);
  const allowed = depthOfFieldFor(other) / 2;
  if (!parfocal || parfocal.errorUm > allowed) return refuse('objectives', { code: 'tooUncertain', what: 'the parfocal offset', error: parfocal?.errorUm ?? Infinity, allowed, unit: 'um' });
  const [ofFirst, ofOther] = [readings.filter((reading) => !reading.isOther), readings.filter((reading) => reading.isOther)];
  const offsets = ofFirst.flatMap(({ picture }, i) => {
    const their = ofOther[i]?.picture;
    if (!their) return [];
    const at = weaker === first ? match(weaker, stronger, picture, their) : match(weaker, stronger, their, picture);
    const [xUm, yUm] = apply2(weaker.cameraToStageUm, at.colPx, at.rowPx);
    // Where the first is the stronger one, it is the first's middle that was found in the other's picture.
    return [weaker === first ? { xUm, yUm } : { xUm: -xUm, yUm: -yUm }];
  });
  const [xUm, yUm] = [meanOf(offsets.map((p) => p.xUm)), meanOf(offsets.map((p) => p.yUm))];
  const squares = offsets.reduce((sum, p) => sum + (p.xUm - xUm) ** 2 + (p.yUm - yUm) ** 2, 0);
  return {
    first,
    other,
    parfocal,
    parfocalUm: first.parfocalUm + parfocal.offsetUm,
    parcentricUm: { xUm: first.parcentricUm.xUm + xUm, yUm: first.parcentricUm.yUm + yUm },
    parcentricErrorUm: Math.sqrt(squares / (2 * Math.max(1, offsets.length - 1) * Math.max(1, offsets.length))),
  };
}
