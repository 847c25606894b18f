import { planScan } from '../../planner/plan/planScan.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { planRequestFor } from '../config/resolve.ts';
import type { RunSheet } from '../config/runSheet.ts';
import { NightjarError } from '../errors/index.ts';
import { chipFrames } from './views.ts';

/** The audited plan of a night. Throws `planRefused` with every refusal, or `marksRefused`: nothing has moved. */
export function planNight(sheet: RunSheet, config: InstrumentConfig): ScanPlan {
  chipFrames({ sheet });
  const result = planScan(planRequestFor(sheet, config));
  if (!result.ok) throw new NightjarError('planRefused', { refusals: result.refusals });
  return result.plan;
}
