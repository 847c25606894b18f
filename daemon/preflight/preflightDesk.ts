import type { Clock } from '../../drivers/interfaces/index.ts';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import type { PreflightControls } from '../server/feed.ts';
import type { PreflightView } from '../server/messages.ts';
import type { Bench } from './check.ts';
import { forecastEndMs } from './computer.ts';
import { checkNames, preflight } from './preflight.ts';
import { freshState, progressed, READINESS_HOLDS_MS, readinessAt, sentenceAt, viewAt, type PreflightState } from './preflightState.ts';

export interface PreflightDeskParts {
  readonly title: string;
  /** A bench whose checks end with this signal. */
  bench(signal: AbortSignal): Bench;
  readonly clock: Clock;
  show(view: PreflightView): void;
  /** Writes the night's beginning; a throw leaves it unbegun. */
  begin(): void;
}

/** Carries out the checks before a night, as often as people ask, until the night is begun. */
export class PreflightDesk implements PreflightControls {
  private readonly parts: PreflightDeskParts;
  private state: PreflightState = freshState([]);
  private ending = new AbortController();
  private ageing = new AbortController();
  private running: Promise<void> = Promise.resolve();
  private bench: Bench | undefined;

  constructor(parts: PreflightDeskParts) {
    this.parts = parts;
  }

  get isChecking(): boolean {
    return this.state.phase === 'checking';
  }

  /** The first time, without being asked. */
  begin(): void {
    this.ageing.abort();
    this.ending = new AbortController();
    const bench = this.parts.bench(this.ending.signal);
    this.bench = bench;
    this.set(freshState(checkNames(bench)));
    this.running = this.check(bench);
  }

  async checkAgain(): Promise<void> {
    if (this.isChecking) throw new NightjarError('preflightUnderWay', { asked: 'check again' });
    if (this.state.phase !== 'started') this.begin();
  }

  /** Pressed again it changes nothing. */
  async startNight(): Promise<void> {
    if (this.state.phase === 'started') return;
    if (this.isChecking) throw new NightjarError('preflightUnderWay', { asked: 'start the night' });
    const nowMs = this.parts.clock.now();
    const readiness = readinessAt(this.state, nowMs);
    if (readiness !== 'ready' && readiness !== 'toBeLookedAt') throw new NightjarError('nightNotReady', { reason: sentenceAt(this.state, nowMs) });
    this.parts.begin();
    this.ageing.abort();
    this.set({ ...this.state, phase: 'started' });
  }

  /** Halts whatever moves, first of all; then waits until the objective is up. A convenience, not a safety device. */
  async stop(): Promise<void> {
    this.ageing.abort();
    if (!this.isChecking || !this.bench) return;
    const { stage, focus } = this.bench.instrument;
    this.ending.abort();
    const halts = await Promise.allSettled([stage.stop(), focus.stop()]);
    await this.running;
    for (const halt of halts) if (halt.status === 'rejected') throw halt.reason;
  }

  private async check(bench: Bench): Promise<void> {
    try {
      await preflight(bench, (progress) => this.set(progressed(this.state, progress, this.parts.clock.now())));
      this.ageing = new AbortController();
      void this.age(this.ageing.signal);
    } catch (error) {
      const found = bench.signal.aborted ? [] : [{ check: 'preflight', verdict: 'toMend', seen: sentenceFor(error).sentence } as const];
      this.set({ ...this.state, phase: 'stopped', found: [...this.state.found.slice(0, -1), [...(this.state.found.at(-1) ?? []), ...found]] });
    }
  }

  /** Shows that the readiness has aged, when it has. */
  private async age(signal: AbortSignal): Promise<void> {
    await this.parts.clock.sleep(READINESS_HOLDS_MS + 1, signal).catch(() => undefined);
    if (!signal.aborted) this.set(this.state);
  }

  private set(state: PreflightState): void {
    this.state = state;
    const { title, clock } = this.parts;
    if (this.bench) this.parts.show(viewAt(state, clock.now(), { title, doneAtMs: forecastEndMs(this.bench) }));
  }
}
