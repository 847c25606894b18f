import { planScan } from '../../planner/plan/planScan.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { closeUpSeconds, flakesBudgetS } from '../closeUps/choice.ts';
import { closeUpBytes, closeUpPolicyFor, opticalPathFor, planRequestFor } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import { NightjarError } from '../errors/index.ts';
import { chipFrames } from './views.ts';

/** The way from one flake to the next is short beside focusing on it: about a frame's width at scanning speed (common practice, no source). */
const wayToNextS = 0.5;

/** The audited plan of a night. Throws `planRefused` with every refusal, or `marksRefused`: nothing has moved. */
export function planNight(sheet: RunSheet, config: InstrumentConfig): ScanPlan {
  chipFrames({ sheet });
  const result = planScan(planRequestFor(sheet, config));
  if (!result.ok) throw new NightjarError('planRefused', { refusals: result.refusals });
  if (!sheet.closeUps) return result.plan;
  const closeUps = closeUpsOf(sheet.closeUps, config);
  return { ...result.plan, closeUps, diskBytes: result.plan.diskBytes + closeUps.about * closeUpBytes(config) };
}

/** Which flakes there will be is not known yet: only how many looks fit into the time. */
function closeUpsOf(wished: NonNullable<RunSheet['closeUps']>, config: InstrumentConfig): NonNullable<ScanPlan['closeUps']> {
  const path = opticalPathFor(wished.opticalPath, config);
  const budgetS = 60 * wished.budgetMin;
  const eachS = closeUpSeconds({ config, path, policy: closeUpPolicyFor(wished, config) }) + wayToNextS;
  return { budgetS, about: Math.max(0, Math.floor(flakesBudgetS({ config, path }, budgetS) / eachS)) };
}
