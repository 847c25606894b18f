import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { guardInstrument } from '../../drivers/safety/gate.ts';
import { patientInstrument, USUAL_PATIENCE } from '../../drivers/safety/patience.ts';
import type { Camera, Instrument } from '../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';
import { limits } from './gateLimits.ts';
import { hostileRig } from './hostileRig.ts';

/** Protects: every call of a device ends in bounded time, whatever its driver does; and then the objective still goes up. Laws of our own. */

const never = (): Promise<never> => new Promise(() => undefined);

function rigAt(startHeightUm: number) {
  const clock = new VirtualClock({ startMs: 0 });
  return { clock, rig: hostileRig({ clock, limits, startHeightUm, nextFault: () => 'none' }) };
}

/** Calls by name, as a run makes them. */
const calls: readonly (readonly [name: string, device: 'stage' | 'focus' | 'turret' | 'lamp' | 'camera', method: string, call: (instrument: Instrument) => Promise<unknown>, boundMs: number])[] = [
  ['position of the stage', 'stage', 'position', (i) => i.stage.position(), USUAL_PATIENCE.answerMs],
  ['state of the stage', 'stage', 'state', (i) => i.stage.state(), USUAL_PATIENCE.answerMs],
  ['move of the stage', 'stage', 'moveTo', (i) => i.stage.moveTo({ xUm: 100, yUm: 0 }), USUAL_PATIENCE.stageMoveMs],
  ['homing of the stage', 'stage', 'home', (i) => i.stage.home(), USUAL_PATIENCE.homingMs],
  ['stop of the stage', 'stage', 'stop', (i) => i.stage.stop(), USUAL_PATIENCE.answerMs],
  ['height', 'focus', 'position', (i) => i.focus.position(), USUAL_PATIENCE.answerMs],
  ['move of the objective', 'focus', 'moveTo', (i) => i.focus.moveTo(2000), USUAL_PATIENCE.focusMoveMs],
  ['stop of the objective', 'focus', 'stop', (i) => i.focus.stop(), USUAL_PATIENCE.answerMs],
  ['place of the turret', 'turret', 'position', (i) => i.turret.position(), USUAL_PATIENCE.answerMs],
  ['change of the turret', 'turret', 'moveTo', (i) => i.turret.moveTo(1), USUAL_PATIENCE.turretMs],
  ['intensity of the lamp', 'lamp', 'intensity', (i) => i.lamp.intensity(), USUAL_PATIENCE.answerMs],
  ['lamp', 'lamp', 'setIntensity', (i) => i.lamp.setIntensity(0.5), USUAL_PATIENCE.answerMs],
  ['setting of the camera', 'camera', 'configure', (i) => i.camera.configure({ exposureMs: 10, gainDb: 0 }), USUAL_PATIENCE.answerMs],
  ['frame', 'camera', 'snap', (i) => i.camera.snap(), USUAL_PATIENCE.frameMs],
];

describe('a driver that never answers', () => {
  it.each(calls)('is answered for with `timeout`: %s', async (_, device, method, call, boundMs) => {
    const { clock, rig } = rigAt(2500);
    Object.assign(rig.instrument[device], { [method]: never });
    const patient = patientInstrument(rig.instrument, USUAL_PATIENCE);
    await expect(call(patient)).rejects.toMatchObject({ code: 'timeout', details: { device, waitedMs: boundMs } });
    expect(clock.now()).toBe(boundMs);
  });

  it('has ten seconds to end what was given up, whatever it makes of the signal', async () => {
    const { clock, rig } = rigAt(2500);
    Object.assign(rig.instrument.stage, { moveTo: never });
    const givenUp = new AbortController();
    const move = patientInstrument(rig.instrument, USUAL_PATIENCE).stage.moveTo({ xUm: 1, yUm: 0 }, { signal: givenUp.signal });
    const outcome = expect(move).rejects.toMatchObject({ code: 'timeout' });
    await clock.sleep(1000);
    givenUp.abort();
    await outcome;
    expect(clock.now()).toBe(11_000);
  });

  it('does not hold the gate shut: with a stage that hangs in a question, the objective goes up', async () => {
    const { rig } = rigAt(100);
    Object.assign(rig.instrument.stage, { position: never });
    const gated = guardInstrument(rig.instrument, limits);
    const move = expect(gated.stage.moveTo({ xUm: 50, yUm: 0 })).rejects.toMatchObject({ code: 'timeout' });
    await expect(gated.focus.moveTo(2500)).resolves.toBe(2500);
    await move;
    expect(rig.forbidden).toEqual([]);
  });

  it('sends nobody on the way with a frame that comes too late', async () => {
    const { rig } = rigAt(2500);
    let exposed: (() => void) | undefined;
    const late: Camera['snap'] = (_, onExposed) => {
      exposed = onExposed;
      return never();
    };
    Object.assign(rig.instrument.camera, { snap: late });
    let sent = 0;
    const snap = patientInstrument(rig.instrument, USUAL_PATIENCE).camera.snap(undefined, () => sent++);
    await expect(snap).rejects.toMatchObject({ code: 'timeout' });
    exposed?.();
    expect(sent).toBe(0);
  });
});

describe('a driver that answers', () => {
  it('is not changed by being waited for: the same answers, at the same time', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.nat({ max: calls.length - 1 }), { maxLength: 12 }), async (which) => {
        const play = async (patience: boolean) => {
          const { clock, rig } = rigAt(2500);
          const instrument = patience ? patientInstrument(rig.instrument, USUAL_PATIENCE) : rig.instrument;
          const answers: unknown[] = [];
          for (const each of which) answers.push(await calls[each]?.[3](instrument).catch((error: unknown) => String(error)));
          return { answers, endMs: clock.now() };
        };
        expect(await play(true)).toEqual(await play(false));
      }),
      { numRuns: 50, seed: 7 },
    );
  });
});
