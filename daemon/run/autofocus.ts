import type { Instrument } from '../../drivers/interfaces/index.ts';
import { addSample, beginSearch, belowUm, nextZUm, runUpZUm, type SearchOutcome, type SearchRequest } from '../../planner/focus/search.ts';
import { travelZ } from './approach.ts';
import { focusMeasure } from './focusMeasure.ts';

/**
 * Searches focus where the stage stands: carries out the planner's search from coarse to fine and leaves the drive at the peak, reached
 * from below.
 * @param settleMs waited after each step of the focus drive, before the exposure
 */
export async function autofocus(instrument: Instrument, request: SearchRequest, settleMs: number, signal: AbortSignal): Promise<SearchOutcome> {
  let state = beginSearch(request);
  for (let zUm = nextZUm(state); zUm !== undefined; zUm = nextZUm(state)) {
    const runUp = runUpZUm(state);
    if (runUp !== undefined) await travelZ(instrument, runUp, signal);
    const reachedUm = await travelZ(instrument, zUm, signal);
    await instrument.clock.sleep(settleMs, signal);
    state = addSample(state, reachedUm, focusMeasure(await instrument.camera.snap(signal)));
  }
  const outcome = state.outcome ?? { ok: false, refusal: { code: 'noReachableZ', zMinUm: request.zMinUm, zMaxUm: request.zMaxUm } };
  if (outcome.ok) {
    await travelZ(instrument, belowUm(request, outcome.peak.zUm), signal);
    await travelZ(instrument, outcome.peak.zUm, signal);
    await instrument.clock.sleep(settleMs, signal);
  }
  return outcome;
}
