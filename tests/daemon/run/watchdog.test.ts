import { describe, expect, it } from 'vitest';
import { RunExecutor, type Activities } from '../../../daemon/run/executor.ts';
import { newRun, type RunMachine } from '../../../daemon/run/machine.ts';
import { NO_PROGRESS_MS, Watchdog } from '../../../daemon/run/watchdog.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';

/** Protects: a run ends in bounded time whatever hangs, and nothing that was given up goes on moving. Laws of our own. */

const never = (): Promise<never> => new Promise(() => undefined);
const todo = [{ tile: 0, chip: 'A' }, { tile: 1, chip: 'A' }];

interface Heard {
  readonly calls: string[];
  signal: AbortSignal | undefined;
}

/** Everything goes well at once, but for what is replaced. */
function activities(heard: Heard, replaced: Partial<Activities>): Activities {
  const well = async (what: string): Promise<void> => {
    heard.calls.push(what);
  };
  return {
    prepare: () => well('prepare'),
    mapFocus: () => well('mapFocus'),
    takeTile: () => well('takeTile'),
    skipTiles: () => well('skipTiles'),
    chooseCloseUps: async () => [],
    takeCloseUp: async () => false,
    skipCloseUp: () => well('skipCloseUp'),
    recover: async () => ({ isReferencedAnew: false }),
    drain: () => well('drain'),
    park: (code) => well(`park ${code}`),
    finish: () => well('finish'),
    halt: () => well('halt'),
    stepped: () => undefined,
    codeOf: (error) => String(error),
    ...replaced,
  };
}

async function run(clock: VirtualClock, heard: Heard, replaced: Partial<Activities>): Promise<RunMachine> {
  return new RunExecutor(newRun(todo), activities(heard, replaced), new Watchdog(clock)).run();
}

describe('what hangs', () => {
  it.each<[string, (heard: Heard) => Partial<Activities>]>([
    ['making ready', () => ({ prepare: never })],
    ['focus', () => ({ mapFocus: never })],
    ['a tile', (heard) => ({ takeTile: (_, signal) => ((heard.signal = signal), never()) })],
    ['the way of the last frames into the records', () => ({ drain: never })],
  ])('is given up, and the run parks: %s', async (_, replaced) => {
    const clock = new VirtualClock({ startMs: 0 });
    const heard: Heard = { calls: [], signal: undefined };
    expect(await run(clock, heard, replaced(heard))).toMatchObject({ phase: 'parked', cause: 'noProgress' });
    expect(heard.calls.at(-1)).toBe('park noProgress');
    expect(clock.now()).toBe(NO_PROGRESS_MS);
    expect(heard.signal?.aborted ?? true).toBe(true);
  });

  it('on the way to safety is said to have failed', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const heard: Heard = { calls: [], signal: undefined };
    expect(await run(clock, heard, { takeTile: never, park: never })).toMatchObject({ phase: 'failed', cause: 'noProgress' });
    expect(clock.now()).toBe(2 * NO_PROGRESS_MS);
  });
});

describe('what goes on, however slowly', () => {
  it('is let alone as long as it shows a sign of life now and then', async () => {
    const clock = new VirtualClock({ startMs: 0 });
    const watchdog = new Watchdog(clock);
    const ended = new AbortController();
    const stuck = watchdog.untilStuck(ended.signal).then(() => clock.now());
    for (let n = 0; n < 10; n++) {
      await clock.sleep(0.9 * NO_PROGRESS_MS);
      watchdog.alive();
    }
    const stuckMs = await stuck;
    const lastSignMs = 9 * NO_PROGRESS_MS;
    expect(stuckMs).toBeGreaterThanOrEqual(lastSignMs + NO_PROGRESS_MS);
    expect(stuckMs).toBeLessThanOrEqual(lastSignMs + (16 / 15) * NO_PROGRESS_MS);
  });

  it('is not watched any more once it has ended', async () => {
    const ended = new AbortController();
    const watching = new Watchdog(new VirtualClock({ startMs: 0 })).untilStuck(ended.signal);
    ended.abort(new Error('ended'));
    await expect(watching).rejects.toThrow('ended');
  });
});
