import type { Instrument } from '../../drivers/interfaces/index.ts';
import { opticalPathFor } from '../config/resolve.ts';
import { travelLimitsFor } from '../run/context.ts';
import type { NightFiles } from '../run/openNight.ts';
import { planNight } from '../run/planNight.ts';
import type { Bench, Ground, Told } from './check.ts';

/** What a preflight of these files works with. Throws `planRefused`: nothing has moved. */
export function benchFor({ sheet, config }: NightFiles, instrument: Instrument, ground: Ground, told: Told, signal: AbortSignal): Bench {
  const plan = planNight(sheet, config);
  return { instrument, config, sheet, plan, path: opticalPathFor(sheet.opticalPath, config), travel: travelLimitsFor(config), ground, told, signal };
}
