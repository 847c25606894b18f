import { lengthUm } from '../errors/words.ts';
import { advice, ok, toMend, type Finding } from '../doctor/finding.ts';
import type { Bench, PreflightCheck } from './check.ts';

/** Between the highest place at which focus is searched and the safe height: room for a clamp, and for a chip that lies higher than expected (common practice, no source). */
export const LEAST_CLEARANCE_UM = 200;

function stageLimits({ instrument: { stage }, config: { limits } }: Bench): Finding {
  const name = 'stage limits';
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = stage.travel;
  const beyond = [
    ...(limits.xMinUm < xMinUm ? ['xMinUm'] : []),
    ...(limits.xMaxUm > xMaxUm ? ['xMaxUm'] : []),
    ...(limits.yMinUm < yMinUm ? ['yMinUm'] : []),
    ...(limits.yMaxUm > yMaxUm ? ['yMaxUm'] : []),
  ];
  const travel = `${lengthUm(xMaxUm - xMinUm)} × ${lengthUm(yMaxUm - yMinUm)}`;
  if (beyond.length > 0) return toMend(name, `the file's ${beyond.join(', ')} lie beyond the stage's own travel of ${travel}`, 'correct `limits` in the instrument file');
  return ok(name, `within the stage's own travel of ${travel}`);
}

function safeHeight({ instrument: { focus }, config, sheet, path }: Bench): Finding {
  const name = 'safe height';
  const { limits } = config;
  const topUm = config.focus.expectedUm + path.parfocalUm + sheet.focus.rangeUm;
  if (limits.safeHeightUm > Math.min(focus.zMaxUm, limits.zMaxUm)) return toMend(name, `${lengthUm(limits.safeHeightUm)} lies beyond the focus drive's end at ${lengthUm(Math.min(focus.zMaxUm, limits.zMaxUm))}`, 'correct `limits.safeHeightUm`');
  const clearanceUm = limits.safeHeightUm - topUm;
  const seen = `${lengthUm(limits.safeHeightUm)}, ${lengthUm(Math.abs(clearanceUm))} ${clearanceUm < 0 ? 'below' : 'above'} the highest place where focus is searched`;
  if (clearanceUm < LEAST_CLEARANCE_UM) return toMend(name, `${seen}; ${lengthUm(LEAST_CLEARANCE_UM)} is the least`, 'measure the tallest thing on the tray, then correct `limits.safeHeightUm`, `focus.expectedUm` or the run sheet\'s `focus.rangeUm`');
  return ok(name, seen);
}

function lowest({ config, sheet, path }: Bench): Finding {
  const name = 'lowest height';
  const bottomUm = config.focus.expectedUm + path.parfocalUm - sheet.focus.rangeUm - config.focus.takeUpUm;
  const { zMinUm } = config.limits;
  if (bottomUm < zMinUm) return advice(name, `focus is searched down to ${lengthUm(bottomUm)}, but the objective never goes below ${lengthUm(zMinUm)}: the search ends there`, 'see that chips lie higher, or correct `focus.expectedUm` and `rangeUm`; lower `limits.zMinUm` only after measuring');
  return ok(name, `the search for focus ends ${lengthUm(bottomUm - zMinUm)} above the limit`);
}

/** Limits of the file against those of the devices, and the heights between which a night works. */
export const checkLimits: PreflightCheck = {
  name: 'limits and heights',
  needs: 'nothing',
  look: async (bench) => [stageLimits(bench), safeHeight(bench), lowest(bench), ok('plan', `${bench.plan.tileCount} tiles on ${bench.plan.chips.length} chips, every position within the limits`)],
};
