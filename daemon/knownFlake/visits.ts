import { DriverError } from '../../drivers/interfaces/index.ts';
import { middleOf } from '../../planner/knownFlake/robust.ts';
import { nightsLookedBack } from '../../planner/knownFlake/index.ts';
import type { KnownFlakeConfig } from '../config/instrument.ts';
import { isNightjarError } from '../errors/index.ts';
import type { KnownFlakeVisit, VisitMoment } from '../records/types.ts';
import type { NightContext } from '../run/context.ts';
import type { OpticalContext } from '../vision/types.ts';
import { lightOf } from './light.ts';
import { lookAtKnownFlake } from './look.ts';
import { steadinessOfVisit } from './steadiness.ts';
import { visitSentence } from './words.ts';

/** Goes to the instrument's known flake before the first chip and after the last tile, and records what is seen. */
export class KnownFlakeVisits {
  private readonly context: NightContext;
  private readonly flake: KnownFlakeConfig;
  private readonly optics: () => OpticalContext;
  private readonly tell: (sentence: string) => void;
  private readonly done = new Set<VisitMoment>();

  /**
   * @param optics what frames are read with tonight
   * @param tell told what came of each visit
   */
  constructor(context: NightContext, flake: KnownFlakeConfig, optics: () => OpticalContext, tell: (sentence: string) => void) {
    this.context = context;
    this.flake = flake;
    this.optics = optics;
    this.tell = tell;
    for (const visit of context.records.knownFlake(context.runId)) if (visit.outcome === 'found') this.done.add(visit.moment);
  }

  /**
   * Does nothing where this visit is done, in this night or before it was broken off. What the devices throw comes back, so that the run deals
   * with it as everywhere: it is recorded as well, until a later try succeeds.
   */
  async visit(moment: VisitMoment, signal: AbortSignal): Promise<void> {
    if (this.done.has(moment)) return;
    const visit = await this.look(moment, signal);
    // Whoever was given up meanwhile writes nothing any more.
    signal.throwIfAborted();
    this.done.add(moment);
    this.record(visit);
    this.tell(visitSentence(visit, steadinessOfVisit(this.context.records, this.context.runId, visit)));
  }

  private async look(moment: VisitMoment, signal: AbortSignal): Promise<KnownFlakeVisit> {
    const { flat: _flat, substrate: _substrate, ...optics } = this.optics();
    try {
      const look = await lookAtKnownFlake(this.context, this.flake, optics, this.usualAreaUm2(moment), signal);
      const end = this.end(moment);
      return look.ok ? { ...end, outcome: 'found', sharpness: look.sharpness, ...look.seen } : { ...end, outcome: 'notFound', reason: look.reason };
    } catch (error) {
      const code = error instanceof DriverError || isNightjarError(error) ? error.code : 'internal';
      if (code !== 'stopped') this.record({ ...this.end(moment), outcome: 'notFound', reason: code });
      throw error;
    }
  }

  private end(moment: VisitMoment): Pick<KnownFlakeVisit, 'moment' | 'name' | 'light' | 'exposureMs' | 'takenAtMs'> {
    const { path, instrument } = this.context;
    return { moment, name: this.flake.name, light: lightOf(path), exposureMs: path.exposureMs, takenAtMs: instrument.clock.now() };
  }

  /** As earlier nights saw it: what is much smaller or larger is something else. */
  private usualAreaUm2(moment: VisitMoment): number | undefined {
    const { records, runId, path } = this.context;
    const before = records.knownFlakeBefore(runId, { name: this.flake.name, light: lightOf(path), moment }, nightsLookedBack);
    return before.length > 0 ? middleOf(before.map(({ areaUm2 }) => areaUm2)) : undefined;
  }

  private record(visit: KnownFlakeVisit): void {
    this.context.records.putKnownFlake(this.context.runId, visit);
  }
}
