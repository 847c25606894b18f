import fc from 'fast-check';
import { openDescribed } from '../../../drivers/described/index.ts';
import { LineCutter } from '../../../drivers/described/lineCutter.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import { DunlinDh12 } from '../../../simulators/farEnd/described/dunlinDh12.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { devicePlan, memoryLine, type DeviceFile } from '../../drivers/described/rig.ts';
import { anyBytes } from '../hostile.ts';
import { answerOf, hold, trial, type Door } from '../law.ts';
import { noises, noisyWire, type Noise } from '../noise.ts';

const devices = {
  'quillfen-qf200': (clock: VirtualClock) => new QuillfenQf200(clock),
  'marrowbeck-lt4': (clock: VirtualClock) => new MarrowbeckLt4(clock),
  'dunlin-dh12-scpi': (clock: VirtualClock) => new DunlinDh12(clock),
} as const;
const names = Object.keys(devices) as readonly DeviceFile[];
const plans = new Map(names.map((name) => [name, devicePlan(name)]));
/** Openings, repeats and homing that times out, all of it: of virtual time. */
const LONGEST_MS = 1_200_000;

/** Everything that a device of its kind is asked for, over a bad line. */
async function talk([name, all, chunk]: readonly [DeviceFile, readonly Noise[], number]): Promise<void> {
  const clock = new VirtualClock({ startMs: 0 });
  const plan = plans.get(name);
  if (!plan) return;
  const openWire = noisyWire(memoryLine(devices[name](clock), chunk), all);
  const device = await answerOf(() => openDescribed(plan, { openWire, clock }));
  if (device) {
    const { stage, focus, turret, lamp, shutter } = device.parts;
    const asked: readonly (() => Promise<unknown> | undefined)[] = [
      () => stage?.home(), () => stage?.position(), () => stage?.moveTo({ xUm: 5000, yUm: 4000 }), () => stage?.state(), () => stage?.stop(),
      () => focus?.position(), () => focus?.moveTo(3000), () => turret?.position(), () => turret?.moveTo(1), () => lamp?.setIntensity(0.5), () => shutter?.setIntensity(1), () => stage?.position(),
    ];
    for (const ask of asked) await answerOf(async () => ask());
    await answerOf(() => device.close());
  }
  hold(clock.now() < LONGEST_MS, 'it ends');
}

/** However bytes are cut, what is kept of a line that never ends is bounded. */
function cut(chunks: readonly Uint8Array[]): void {
  const cutter = new LineCutter('\r\n', 64);
  for (const chunk of chunks) for (const { text } of cutter.push(chunk)) hold(text.length <= 64, 'no line is longer than may be');
  hold(cutter.unfinished.length <= 66, 'what is held is bounded');
}

export const describedReplies: Door = {
  name: 'replies of described devices',
  trials: [
    trial('a device over a bad line', fc.tuple(fc.constantFrom(...names), noises, fc.integer({ min: 1, max: 60 })), talk, 0.6),
    trial('bytes cut anywhere', fc.array(fc.oneof(anyBytes, fc.constantFrom('\r', '\n', '\r\n', 'x'.repeat(500)).map((text) => Buffer.from(text))), { maxLength: 12 }), cut),
  ],
};
