import type { CameraFrame, Instrument } from '../../drivers/interfaces/index.ts';
import { addSample, beginSearch, belowUm, nextZUm, runUpZUm, type SearchOutcome, type SearchRequest } from '../../planner/focus/search.ts';
import { travelZ } from './approach.ts';
import { focusMeasure, textureCentre, type FramePlace } from './focusMeasure.ts';
import { snapThen } from './snapThen.ts';

/** What a search gave, and where in the frames that was which it focused on. */
export type Focused = SearchOutcome & { readonly texture?: FramePlace; readonly exposures: number };

/** The frames that tell where the texture is: the sharpest and the least sharp of a search. */
class Extremes {
  private sharpest: { readonly frame: CameraFrame; readonly value: number } | undefined;
  private dullest: { readonly frame: CameraFrame; readonly value: number } | undefined;

  add(frame: CameraFrame, value: number): void {
    if (!this.sharpest || value > this.sharpest.value) this.sharpest = { frame, value };
    if (!this.dullest || value < this.dullest.value) this.dullest = { frame, value };
  }

  place(): FramePlace | undefined {
    return this.sharpest && this.dullest && textureCentre(this.sharpest.frame, this.dullest.frame);
  }
}

/**
 * Searches focus where the stage stands: carries out the planner's search and leaves the drive at the peak, reached from below as all
 * heights are. While a frame is read out the drive goes on to the next height of its sweep, and settles there.
 * @param settleMs waited after each step of the focus drive, before the exposure
 * @param measure how sharp a frame is, in any unit
 */
export async function autofocus(instrument: Instrument, request: SearchRequest, settleMs: number, signal: AbortSignal, measure: (frame: CameraFrame) => number = focusMeasure): Promise<Focused> {
  const { clock, camera } = instrument;
  const extremes = new Extremes();
  let state = beginSearch(request);
  let standsAtUm: number | undefined;
  const settleAt = async (zUm: number): Promise<number> => {
    const reachedUm = await travelZ(instrument, zUm, signal);
    await clock.sleep(settleMs, signal);
    return reachedUm;
  };
  for (let zUm = nextZUm(state); zUm !== undefined; zUm = nextZUm(state)) {
    const runUp = standsAtUm === undefined ? runUpZUm(state) : undefined;
    if (runUp !== undefined) await travelZ(instrument, runUp, signal);
    const reachedUm = standsAtUm ?? (await settleAt(zUm));
    const [, afterUm] = state.ahead;
    const { frame, then } = await snapThen(camera, async () => (afterUm === undefined ? undefined : settleAt(afterUm)), signal);
    standsAtUm = then;
    const value = measure(frame);
    extremes.add(frame, value);
    state = addSample(state, reachedUm, value);
  }
  const outcome = state.outcome ?? { ok: false, refusal: { code: 'noReachableZ', zMinUm: request.zMinUm, zMaxUm: request.zMaxUm } };
  if (outcome.ok) {
    await travelZ(instrument, belowUm(request, outcome.peak.zUm), signal);
    await travelZ(instrument, outcome.peak.zUm, signal);
    await clock.sleep(settleMs, signal);
  }
  const texture = extremes.place();
  return { ...outcome, exposures: state.samples.length, ...(texture ? { texture } : {}) };
}
