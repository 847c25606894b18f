import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { devicePlan, must, openOverMemory } from './rig.ts';

/** Protects: through any run of faults every move arrives where it is told or fails by a stated error, soon; no place is ever told wrongly. */

type Fault = (fake: QuillfenQf200) => void;

const faults: Readonly<Record<string, Fault>> = {
  none: () => undefined,
  calm: () => undefined,
  mute: (fake) => fake.mute(1),
  muteLong: (fake) => fake.mute(4),
  garble: (fake) => fake.garble(1),
  garbleLong: (fake) => fake.garble(5),
  flipDigit: (fake) => fake.flipDigit(1),
  slow: (fake) => fake.slow(500, 1),
  refuse: (fake) => fake.refuse(1),
  hangUp: (fake) => fake.hangUp(),
  restart: (fake) => fake.restart(),
  powerCycle: (fake) => fake.powerCycle(),
  stick: (fake) => fake.x.stick(),
  noise: (fake) => fake.sayBytes(Uint8Array.of(0xff, 0x00, 0x41)),
};

const move = fc.record({ fault: fc.constantFrom(...Object.keys(faults)), afterMs: fc.integer({ min: 0, max: 300 }), xUm: fc.integer({ min: 0, max: 20_000 }), yUm: fc.integer({ min: 0, max: 12_000 }) });
/** Repeats, a stop and its confirmation, and 1.4 s for the longest way: far below the ten seconds that nothing may hang. */
const LONGEST_MS = 10_000;

describe('a storm of faults', () => {
  it('makes moves fail, and never arrive elsewhere or hang', async () => {
    let [arrived, failed] = [0, 0];
    const codes = new Map<string, number>();
    await fc.assert(
      fc.asyncProperty(fc.array(move, { minLength: 20, maxLength: 40 }), async (moves) => {
        const clock = new VirtualClock({ startMs: 0 });
        const fake = new QuillfenQf200(clock);
        const { device } = await openOverMemory(devicePlan('quillfen-qf200'), fake, clock);
        const stage = must(device.parts.stage);
        for (const { fault, afterMs, xUm, yUm } of moves) {
          const beganMs = clock.now();
          const striking = clock.sleep(afterMs).then(() => faults[fault]?.(fake));
          try {
            const at = await stage.moveTo({ xUm, yUm });
            expect([at.xUm - xUm, at.yUm - yUm, fake.x.at / 10 - xUm, 12_000 - fake.y.at / 10 - yUm].every((off) => Math.abs(off) <= 1)).toBe(true);
            arrived++;
          } catch (error) {
            if (!(error instanceof DriverError)) throw error;
            codes.set(error.code, (codes.get(error.code) ?? 0) + 1);
            failed++;
          }
          expect(clock.now() - beganMs).toBeLessThan(LONGEST_MS);
          await striking;
          const state = await stage.state().catch(() => 'positionLost');
          if (state === 'positionLost') await stage.home().catch(() => undefined);
        }
      }),
      { numRuns: 20 },
    );
    expect([...codes.keys()].filter((code) => !['timeout', 'badReply', 'deviceError', 'disconnected', 'positionLost', 'stalled'].includes(code))).toEqual([]);
    // Of thirteen faults five are made good by asking again, and two are none.
    expect(arrived / (arrived + failed)).toBeGreaterThan(0.3);
  });
});
