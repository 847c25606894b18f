import { boundingBox } from '../../planner/geometry/polygon.ts';
import type { PlannedChip } from '../../planner/plan/types.ts';
import { distanceUm, type StagePoint } from '../../planner/units/index.ts';
import { ok, toMend, type Finding } from '../doctor/finding.ts';
import { figure, lengthUm } from '../errors/words.ts';
import { raise } from '../run/approach.ts';
import { focusOnce } from '../run/focusMapping.ts';
import { judgeExposure } from './camera.ts';
import type { Bench, PreflightCheck } from './check.ts';

/** Of the planned focus points, the one nearest to the chip's middle: where the run will go as well. */
export function middlePoint({ outlineUm, focusPointsUm }: PlannedChip): StagePoint {
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = boundingBox(outlineUm);
  const middle = { xUm: (xMinUm + xMaxUm) / 2, yUm: (yMinUm + yMaxUm) / 2 };
  return focusPointsUm.reduce((best, point) => (distanceUm(point, middle) < distanceUm(best, middle) ? point : best), focusPointsUm[0] ?? middle);
}

async function lookAtChip(bench: Bench, chip: PlannedChip): Promise<readonly Finding[]> {
  const { instrument, config, sheet, travel, signal } = bench;
  await raise(instrument, travel.safeHeightUm, signal);
  const name = `focus on ${chip.name}`;
  const found = await focusOnce(bench, chip, middlePoint(chip), signal);
  if (!found) return [toMend(name, `nothing to focus on near its middle within ${lengthUm(sheet.focus.rangeUm)} of the expected height`, 'see that the chip lies where the run sheet says, that the light is on, and that `focus.expectedUm` fits')];
  const offUm = found.point.zUm - config.focus.expectedUm - bench.path.parfocalUm;
  const seen = `at ${lengthUm(found.point.zUm)}, ${figure(Math.abs(offUm), 1)} µm ${offUm < 0 ? 'below' : 'above'} what was expected. One place near its middle: it tells that something lies there, not that it is this chip or lies level`;
  const one = await instrument.camera.snap(signal);
  const other = await instrument.camera.snap(signal);
  return [ok(name, seen), ...judgeExposure(`exposure on ${chip.name}`, one, other, config.camera.transfer)];
}

/** Focus and exposure near the middle of one chip, reached with the objective up and left in focus, for what is looked at next. */
export function checkChip(chip: PlannedChip): PreflightCheck {
  return { name: `focus on ${chip.name}`, needs: 'motion', look: (bench) => lookAtChip(bench, chip) };
}
