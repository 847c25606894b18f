import type { Clock } from '../../../drivers/interfaces/index.ts';

interface Sleeper {
  readonly atMs: number;
  readonly wake: () => void;
}

/** A clock that stands still until it is pushed; what sleeps is woken when its time has come. */
export class HandClock implements Clock {
  private nowMs: number;
  private sleepers: Sleeper[] = [];
  private watchers: (() => void)[] = [];

  constructor(nowMs: number) {
    this.nowMs = nowMs;
  }

  now(): number {
    return this.nowMs;
  }

  sleep(ms: number, signal?: AbortSignal): Promise<void> {
    return new Promise((resolve, reject) => {
      const sleeper = { atMs: this.nowMs + ms, wake: resolve };
      this.sleepers.push(sleeper);
      signal?.addEventListener('abort', () => {
        this.sleepers = this.sleepers.filter((each) => each !== sleeper);
        reject(signal.reason as Error);
      }, { once: true });
      for (const watcher of this.watchers.splice(0)) watcher();
    });
  }

  track<T>(operation: Promise<T>): Promise<T> {
    return operation;
  }

  /** What is slept for at this moment, ms from now, shortest first. */
  waits(): readonly number[] {
    return this.sleepers.map(({ atMs }) => atMs - this.nowMs).sort((a, b) => a - b);
  }

  /** Resolves when somebody sleeps for so long. */
  async untilSlept(ms: number): Promise<void> {
    while (!this.waits().includes(ms)) await new Promise<void>((resolve) => this.watchers.push(resolve));
  }

  push(ms: number): void {
    this.nowMs += ms;
    const due = this.sleepers.filter(({ atMs }) => atMs <= this.nowMs);
    this.sleepers = this.sleepers.filter((each) => !due.includes(each));
    for (const { wake } of due) wake();
  }
}
