import { DriverError, type MoveOptions, type StageState } from '../interfaces/index.ts';
import { axisIndex, toStepMm, toUm, type GcodeAxis } from './axis.ts';
import { REAL_TIME, SLOWEST_UM_PER_S } from './commands.ts';
import { drive } from './drive.ts';
import { home } from './homing.ts';
import type { Session } from './session.ts';
import type { Turn } from './turn.ts';

/** A motion of the other device of the same controller may go on for this long before a waiting one gives up. */
const TURN_WITHIN_MS = 8000;
/** A stop waits this long for the motors to stand. */
const STOP_WITHIN_MS = 4000;

/** What stage and focus drive have in common: some axes of one controller. */
export class Motor {
  readonly #device: 'stage' | 'focus';
  readonly #axes: readonly GcodeAxis[];
  readonly #session: Session;
  readonly #turn: Turn;
  #isClosed = false;
  #moving: { readonly stop: AbortController; readonly ended: Promise<unknown> } | undefined;

  constructor(device: 'stage' | 'focus', axes: readonly GcodeAxis[], session: Session, turn: Turn) {
    this.#device = device;
    this.#axes = axes;
    this.#session = session;
    this.#turn = turn;
  }

  /** Um of its axes, in their order. At rest, what was seen within the last second stands: the safety gate asks before every move. */
  async position(): Promise<readonly number[]> {
    this.#requireOpen();
    const talk = await this.#session.ready();
    this.#session.requireKnown();
    if (!this.#turn.isTaken) return this.#toUm(await this.#session.standing(talk));
    return this.#toUm(await this.#session.underWay(talk));
  }

  async state(): Promise<StageState> {
    if (this.#isClosed) return 'closed';
    if (this.#moving) return 'moving';
    const talk = await this.#session.ready();
    // In a hard alarm nothing would be answered.
    if (this.#session.known.alarm !== undefined) return 'alarm';
    const { report } = await this.#session.look(talk);
    if (report.state === 'Alarm') return 'alarm';
    if (this.#session.known.lostBecause !== undefined) return 'positionLost';
    return this.#turn.isTaken || report.state === 'Idle' ? 'idle' : 'moving';
  }

  /** Goes straight to a place, um of its axes. */
  async moveTo(targetUm: readonly number[], { speedUmPerS = Number.POSITIVE_INFINITY, signal }: MoveOptions): Promise<readonly number[]> {
    this.#requireOpen();
    this.#requireInside(targetUm);
    if (!(speedUmPerS >= SLOWEST_UM_PER_S)) throw new DriverError('unsupported', { device: this.#device, what: 'so low a speed', askedUmPerS: speedUmPerS, lowestUmPerS: SLOWEST_UM_PER_S });
    const arrivedMm = await this.#motion(signal, async (stop) => {
      const talk = await this.#session.ready();
      const fromMm = await this.#session.standing(talk);
      const { target, toMm } = this.#aim(targetUm, fromMm);
      return drive(this.#session, talk, { device: this.#device, target, toMm, speedUmPerS, stop });
    });
    return this.#toUm(arrivedMm);
  }

  /** Homes the whole controller. Without switches: back to the reference place, which must still be known. */
  async home(signal: AbortSignal | undefined): Promise<void> {
    this.#requireOpen();
    if (this.#session.options.reference === 'byHand') {
      await this.moveTo(this.#axes.map(({ originUm }) => originUm), signal ? { signal } : {});
      return;
    }
    await this.#motion(signal, async (stop) => home(this.#session, await this.#session.ready(), stop));
  }

  /** Halts a motion of its own; one of the other device goes on. */
  async stop(): Promise<void> {
    this.#requireOpen();
    const moving = this.#moving;
    moving?.stop.abort();
    const talk = this.#session.openTalk;
    if (!moving) {
      // Something may be left of a move that failed.
      if (!this.#turn.isTaken) await talk?.realTime(REAL_TIME.cancelJog);
      return;
    }
    const standing = new AbortController();
    void moving.ended.then(() => standing.abort());
    await this.#session.clock.sleep(STOP_WITHIN_MS, standing.signal).catch(() => undefined);
  }

  async close(): Promise<void> {
    if (this.#isClosed) return;
    await this.stop().catch(() => undefined);
    this.#isClosed = true;
  }

  async #motion<T>(signal: AbortSignal | undefined, carryOut: (stop: AbortSignal) => Promise<T>): Promise<T> {
    if (signal?.aborted) throw new DriverError('stopped', { device: this.#device });
    if (this.#moving) throw new DriverError('unsupported', { device: this.#device, what: 'two moves at once' });
    const stop = new AbortController();
    const onAbort = () => stop.abort();
    signal?.addEventListener('abort', onAbort, { once: true });
    const work = this.#inTurn(stop.signal, carryOut);
    this.#moving = { stop, ended: work.catch(() => undefined) };
    try {
      return await work;
    } finally {
      this.#moving = undefined;
      signal?.removeEventListener('abort', onAbort);
    }
  }

  async #inTurn<T>(stop: AbortSignal, carryOut: (stop: AbortSignal) => Promise<T>): Promise<T> {
    const giveBack = await this.#turn.take(TURN_WITHIN_MS, stop);
    try {
      if (stop.aborted) throw new DriverError('stopped', { device: this.#device });
      return await carryOut(stop);
    } finally {
      giveBack();
    }
  }

  #aim(targetUm: readonly number[], fromMm: readonly number[]) {
    const toMm = [...fromMm];
    const target = this.#axes.map((axis, place) => {
      const index = axisIndex(axis);
      const mm = toStepMm(axis, targetUm[place] ?? Number.NaN, this.#session.referenceMm[index] ?? 0);
      toMm[index] = mm;
      return { letter: axis.letter, index, mm };
    });
    return { target, toMm };
  }

  #toUm(mm: readonly number[]): readonly number[] {
    return this.#axes.map((axis) => toUm(axis, mm[axisIndex(axis)] ?? Number.NaN, this.#session.referenceMm[axisIndex(axis)] ?? 0));
  }

  #requireOpen(): void {
    if (this.#isClosed || this.#session.isClosed) throw new DriverError('closed', { device: this.#device });
  }

  #requireInside(targetUm: readonly number[]): void {
    for (const [place, { letter, minUm, maxUm }] of this.#axes.entries()) {
      const askedUm = targetUm[place] ?? Number.NaN;
      if (!(askedUm >= minUm && askedUm <= maxUm)) throw new DriverError('limit', { device: this.#device, axis: letter, askedUm, minUm, maxUm });
    }
  }
}
