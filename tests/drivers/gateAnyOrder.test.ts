import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import type { Instrument } from '../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';
import type { RigFault } from './rigLine.ts';

/** Protects: issue 5, "no sequence of calls or faults moves outside". What is outside is judged by an onlooker who sees where things truly are. */

/** Mostly what a careful caller would ask, now and then anything at all. */
const mostly = (min: number, max: number) => fc.oneof({ weight: 6, arbitrary: fc.double({ min, max, noNaN: true }) }, { weight: 1, arbitrary: fc.double() });
const coordinate = mostly(-21_000, 21_000);
const height = fc.oneof(mostly(0, 5000), mostly(0, 2500), mostly(1900, 5000));
/** Nobody could tell a slower motion from rest. */
const slowestUmPerS = 100;
const someSpeed = (max: number) => mostly(slowestUmPerS, max).map((value) => (value > 0 ? Math.max(slowestUmPerS, value) : value));
const speed = fc.oneof({ weight: 3, arbitrary: fc.constant(undefined) }, { weight: 1, arbitrary: someSpeed(1000) }, { weight: 1, arbitrary: someSpeed(20_000) });
const region = fc.option(fc.record({ colPx: mostly(0, 9), rowPx: fc.nat(9), widthPx: fc.nat(9), heightPx: fc.nat(9) }), { nil: undefined });
/** Given up by the caller so long after the call. */
const abortMs = fc.option(fc.nat(2000), { freq: 8, nil: undefined });
const call = fc.oneof(
  { weight: 5, arbitrary: fc.record({ kind: fc.constant('stage' as const), x: coordinate, y: coordinate, speed, near: fc.boolean(), abortMs }) },
  { weight: 5, arbitrary: fc.record({ kind: fc.constant('focus' as const), z: height, speed, abortMs }) },
  { weight: 4, arbitrary: fc.record({ kind: fc.constant('turret' as const), position: mostly(0, 4).map((value) => (Math.abs(value) < 5 ? Math.floor(value) : value)) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constantFrom('lamp' as const, 'fieldStop' as const), fraction: mostly(0, 1) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('camera' as const), exposureMs: mostly(1, 9), gainDb: mostly(0, 3), region }) },
  { weight: 2, arbitrary: fc.record({ kind: fc.constantFrom('home' as const, 'focusHome' as const), abortMs }) },
  { weight: 3, arbitrary: fc.record({ kind: fc.constantFrom('stopStage' as const, 'stopFocus' as const, 'reference' as const, 'focusReference' as const) }) },
);
const rareCall = fc.record({ kind: fc.constantFrom('closeStage' as const, 'closeFocus' as const) });
type Call = (typeof call extends fc.Arbitrary<infer T> ? T : never) | (typeof rareCall extends fc.Arbitrary<infer T> ? T : never);

/** Options that say one thing when they are looked at first, and another afterwards. */
function shiftyOptions(speedUmPerS: number | undefined, signal: AbortSignal): { readonly speedUmPerS?: number; readonly signal: AbortSignal } {
  if (speedUmPerS === undefined) return { signal };
  let looks = 0;
  return {
    signal,
    get speedUmPerS() {
      return looks++ === 0 ? speedUmPerS : 1e6;
    },
  };
}

/** Changes what it has given as soon as the call is made. */
function shiftyCamera({ camera }: Instrument, asked: Extract<Call, { readonly kind: 'camera' }>): Promise<unknown> {
  const settings = { exposureMs: asked.exposureMs, gainDb: asked.gainDb, ...(asked.region ? { region: { ...asked.region } } : {}) };
  const configured = camera.configure(settings);
  Object.assign(settings, { exposureMs: Number.NaN, gainDb: Number.NaN });
  if (settings.region) settings.region.colPx = 0.5;
  return configured;
}

async function shiftyStage({ stage }: Instrument, asked: Extract<Call, { readonly kind: 'stage' }>, signal: AbortSignal): Promise<unknown> {
  const from = asked.near ? await stage.position() : { xUm: 0, yUm: 0 };
  const scale = asked.near ? 0.2 : 1;
  const target = { xUm: from.xUm + asked.x * scale, yUm: from.yUm + asked.y * scale };
  const moved = stage.moveTo(target, shiftyOptions(asked.speed, signal));
  target.xUm = 1e9;
  return moved;
}

async function perform(gated: Instrument, asked: Call, signal: AbortSignal): Promise<unknown> {
  if (asked.kind === 'stage') return shiftyStage(gated, asked, signal);
  if (asked.kind === 'focus') return gated.focus.moveTo(asked.z, shiftyOptions(asked.speed, signal));
  if (asked.kind === 'turret') return gated.turret.moveTo(asked.position);
  if (asked.kind === 'lamp') return gated.lamp.setIntensity(asked.fraction);
  if (asked.kind === 'fieldStop') return gated.fieldStop?.setOpening(asked.fraction);
  if (asked.kind === 'camera') return shiftyCamera(gated, asked);
  if (asked.kind === 'home') return gated.stage.home(signal);
  if (asked.kind === 'focusHome') return gated.focus.home?.(signal);
  if (asked.kind === 'reference') return gated.stage.takeReference?.();
  if (asked.kind === 'focusReference') return gated.focus.takeReference?.();
  if (asked.kind === 'stopStage') return gated.stage.stop();
  if (asked.kind === 'stopFocus') return gated.focus.stop();
  if (asked.kind === 'closeStage') return gated.stage.close();
  return gated.focus.close();
}

async function callAndAbort(clock: VirtualClock, gated: Instrument, asked: Call): Promise<void> {
  const over = new AbortController();
  const outcome = perform(gated, asked, over.signal).catch(() => undefined);
  if ('abortMs' in asked && asked.abortMs !== undefined) {
    await clock.sleep(asked.abortMs);
    over.abort();
  }
  await outcome;
}

const sound = Array.from({ length: 14 }, () => 'none' as const);
const fault = fc.constantFrom<RigFault>(...sound, 'refused', 'lostReply', 'lostReply', 'lateReply', 'lateStart', 'stalls', 'readFails', 'readsNaN', 'garbled', 'garbled', 'stopFails', 'stopLies', 'slowStop', 'unplugged');
const wait = fc.oneof(fc.constant(0), fc.integer({ min: 0, max: 60 }), fc.integer({ min: 0, max: 9000 }));
const step = fc.record({ call: fc.oneof({ weight: 60, arbitrary: call }, { weight: 1, arbitrary: rareCall }), waitMs: wait });
const story = fc.record({
  steps: fc.array(step, { maxLength: 30, size: 'max' }),
  faults: fc.infiniteStream(fault),
  startHeightUm: fc.oneof(fc.double({ min: 0, max: 5000, noNaN: true }), fc.double({ min: 1900, max: 5000, noNaN: true })),
  homingLifts: fc.boolean(),
});

describe('safety gate, any calls and faults', () => {
  it('no sequence makes a raw device do what is forbidden (property)', async () => {
    const reached = new Map<string, number>();
    await fc.assert(
      fc.asyncProperty(story, async ({ steps, faults, startHeightUm, homingLifts }) => {
        const clock = new VirtualClock({ startMs: 0 });
        const rig = hostileRig({ clock, limits, startHeightUm, homingLifts, nextFault: () => faults.next().value as RigFault });
        const gated = guardInstrument(rig.instrument, limits);
        const ends: Promise<void>[] = [];
        for (const each of steps) {
          ends.push(callAndAbort(clock, gated, each.call));
          await clock.sleep(each.waitMs);
        }
        await Promise.all(ends);
        expect(rig.forbidden).toEqual([]);
        for (const what of rig.received) reached.set(what, (reached.get(what) ?? 0) + 1);
      }),
      { numRuns: 800 },
    );
    // The gate must not be proved safe by letting nothing through.
    for (const [what, least] of [['stage', 250], ['focus', 300], ['turret', 100], ['home', 50], ['focusHome', 90], ['reference', 120], ['lamp', 70], ['fieldStop', 70], ['camera', 20]] as const) {
      expect(reached.get(what), what).toBeGreaterThan(least);
    }
  });
});
