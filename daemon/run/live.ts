import { DriverError, type CameraFrame, type Instrument, type SafetyLimits } from '../../drivers/interfaces/index.ts';
import type { StagePoint } from '../../planner/units/index.ts';
import { approachFromBelow, raise, type TravelLimits } from './approach.ts';
import { changePath } from './changePath.ts';

/** Where to go and how to light and expose it. */
export interface LiveTarget {
  readonly flakeId: string;
  readonly atUm: StagePoint;
  readonly zUm: number;
  readonly lampIntensity: number;
  readonly exposureMs: number;
  readonly gainDb: number;
  readonly turretPosition: number;
}

/** One live frame and where it was taken. */
export interface LiveFrame {
  readonly flakeId: string;
  readonly frame: CameraFrame;
  readonly centreUm: StagePoint;
  readonly zUm: number;
}

/** Who is told of a live picture. */
export interface LiveListener {
  show(live: LiveFrame): Promise<void>;
  /** The picture ended by itself, or the instrument could not be made safe. */
  failed(error: unknown): void;
}

const periodMs = 250;
/** Nobody looks for longer without asking again; then the lamp goes off by itself. */
const longestMs = 15 * 60_000;

/**
 * Goes back to a flake and shows it live: objective up where the way is long, sideways, then down to the focus at which it was found;
 * never both at once. Frames go to `show` one at a time, each awaited, so that a slow picture only makes the next one later.
 */
export class LiveView {
  private readonly instrument: Instrument;
  private readonly travel: TravelLimits;
  private readonly limits: SafetyLimits;
  private readonly tell: LiveListener;
  /** What was asked last: the next request waits for it, so that two never move the stage at once. */
  private queue: Promise<void> = Promise.resolve();
  /** Of the way there and of the showing after it. */
  private present = new AbortController();
  private showing: Promise<void> = Promise.resolve();
  /** Counts the ends asked for: what was asked before one and waits for its turn is not begun any more. */
  private ends = 0;
  private isUnsafe = false;

  constructor(instrument: Instrument, travel: TravelLimits, limits: SafetyLimits, tell: LiveListener) {
    this.instrument = instrument;
    this.travel = travel;
    this.limits = limits;
    this.tell = tell;
  }

  /** True from the first move to a flake until objective and lamp are safe again. */
  get active(): boolean {
    return this.isUnsafe;
  }

  /**
   * Resolves when the first picture has been shown; the live picture then goes on until `end` or its longest time. When the way there
   * fails, the instrument is made safe and the error comes back.
   */
  goTo(target: LiveTarget): Promise<void> {
    const { ends } = this;
    return this.inTurn(async () => {
      if (this.ends !== ends) throw stopped();
      await this.halt();
      const stop = new AbortController();
      this.present = stop;
      this.isUnsafe = true;
      try {
        await this.arrive(target, stop.signal);
      } catch (error) {
        await this.makeSafe();
        throw error;
      }
      this.showing = this.keepShowing(target, stop.signal)
        .catch((error: unknown) => {
          if (!stop.signal.aborted) this.tell.failed(error);
        })
        .then(() => (stop.signal.aborted ? undefined : this.makeSafe()));
    });
  }

  /** Ends the live picture, lifts the objective and switches the lamp off. */
  end(): Promise<void> {
    this.abort();
    return this.inTurn(async () => {
      await this.halt();
      if (this.isUnsafe) await this.makeSafe();
    });
  }

  /** Ends the way there or the showing at once, without waiting: for Stop. */
  abort(): void {
    this.ends++;
    this.present.abort(stopped());
  }

  private inTurn(work: () => Promise<void>): Promise<void> {
    const turn = this.queue.then(work);
    this.queue = turn.catch(() => undefined);
    return turn;
  }

  private async halt(): Promise<void> {
    this.present.abort(stopped());
    await this.showing;
  }

  /** Each is tried whatever becomes of the other. */
  private async makeSafe(): Promise<void> {
    const { lamp } = this.instrument;
    const outcomes = await Promise.allSettled([lamp.setIntensity(0), raise(this.instrument, this.travel.safeHeightUm)]);
    this.isUnsafe = false;
    for (const outcome of outcomes) {
      if (outcome.status === 'fulfilled') continue;
      this.isUnsafe = true;
      this.tell.failed(outcome.reason);
    }
  }

  private async arrive(target: LiveTarget, signal: AbortSignal): Promise<void> {
    const { instrument } = this;
    await changePath(instrument, target, this.travel.safeHeightUm, signal);
    await approachFromBelow(instrument, target.atUm, target.zUm, this.travel, this.limits, signal);
    await instrument.clock.sleep(Math.max(this.travel.settleMs, this.travel.focusSettleMs), signal);
    await this.takeOne(target, signal);
  }

  private async keepShowing(target: LiveTarget, signal: AbortSignal): Promise<void> {
    const { clock } = this.instrument;
    const untilMs = clock.now() + longestMs;
    while (clock.now() < untilMs) {
      await clock.sleep(periodMs, signal);
      await this.takeOne(target, signal);
    }
  }

  private async takeOne(target: LiveTarget, signal: AbortSignal): Promise<void> {
    const frame = await this.instrument.camera.snap(signal);
    const centreUm = await this.instrument.stage.position();
    const zUm = await this.instrument.focus.position();
    await this.tell.show({ flakeId: target.flakeId, frame, centreUm, zUm });
  }
}

function stopped(): DriverError {
  return new DriverError('stopped', { device: 'live picture' });
}
