import fc from 'fast-check';
import { openGcodeController } from '../../../drivers/gcode/index.ts';
import { parseReply } from '../../../drivers/gcode/reply.ts';
import { LineReader } from '../../../drivers/line/lineReader.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import type { FarEnd } from '../../../simulators/farEnd/described/asciiFarEnd.ts';
import { ControllerCore } from '../../../simulators/farEnd/firmware/controllerCore.ts';
import { QUICK_BUILD } from '../../../simulators/farEnd/firmware/settings.ts';
import { memoryLine } from '../../drivers/described/rig.ts';
import { AXES } from '../../drivers/gcode/axes.ts';
import { anyBytes } from '../hostile.ts';
import { answerOf, hold, trial, type Door } from '../law.ts';
import { mutatedText } from '../mutate.ts';
import { noises, noisyWire, type Noise } from '../noise.ts';

const LONGEST_MS = 1_200_000;

/** The fake firmware at the end of a line in memory. */
function firmware(clock: VirtualClock): FarEnd {
  return {
    connected(link) {
      const core = new ControllerCore(clock, QUICK_BUILD, [-7, -6, -2], (text) => link.send(Buffer.from(text, 'latin1')));
      void core.powerOn();
      return { received: (bytes) => core.receive(bytes, clock.now()), gone: () => core.powerOff() };
    },
  };
}

async function talk([all, chunk]: readonly [readonly Noise[], number]): Promise<void> {
  const clock = new VirtualClock({ startMs: 0 });
  const openWire = noisyWire(memoryLine(firmware(clock), chunk), all);
  const controller = await answerOf(() => openGcodeController({ clock, openWire, line: { line: 'noisy' }, reference: 'homing', bootWithinMs: 2000, stage: { x: AXES.x, y: AXES.y }, focus: AXES.z }));
  if (controller) {
    const { stage, focus } = controller;
    const asked: readonly (() => Promise<unknown> | undefined)[] = [
      () => controller.home(), () => stage?.position(), () => stage?.moveTo({ xUm: 17_000, yUm: 2000 }), () => stage?.state(), () => focus?.moveTo(3000), () => stage?.stop(),
      () => stage?.moveTo({ xUm: 18_000, yUm: 3000 }), () => controller.hold(), () => controller.resume(), () => stage?.position(),
    ];
    for (const ask of asked) await answerOf(async () => ask());
    await answerOf(() => controller.close());
  }
  hold(clock.now() < LONGEST_MS, 'it ends');
}

const lines = ['ok', 'error:20', 'ALARM:1', "Grbl 1.1h ['$' for help]", '<Idle|MPos:-7.000,-6.000,-2.000|FS:0,0|WCO:0.000,0.000,0.000>', '<Hold:0|WPos:1.000,2.000,3.000|Pn:XYZ>', '$100=4000.000', '[VER:1.1h.20190825:]'];

/** A line is read for what it is or not at all; whatever number is read is one. */
function readLine(line: string): void {
  const reply = parseReply(line);
  const numbers = reply.kind === 'status' ? [...reply.report.positionMm, ...(reply.report.workOffsetMm ?? [])] : reply.kind === 'setting' ? [reply.number, reply.value] : [];
  hold(numbers.every(Number.isFinite), 'every number read is one');
}

function cut(chunks: readonly Uint8Array[]): void {
  const reader = new LineReader(64);
  for (const chunk of chunks) {
    for (const heard of reader.push(chunk)) hold(heard.kind === 'text' ? heard.text.length <= 64 && /^[\t -~]+$/.test(heard.text) : heard.bytes.length <= 64, 'no line is longer than may be, and text is text');
  }
}

export const gcodeReplies: Door = {
  name: 'replies in G-code',
  trials: [
    trial('a controller over a bad line', fc.tuple(noises, fc.integer({ min: 1, max: 60 })), talk, 0.6),
    trial('a line with something wrong in it', fc.constantFrom(...lines).chain((line) => mutatedText(line)), readLine, 4),
    trial('bytes cut anywhere', fc.array(fc.oneof(anyBytes, fc.constantFrom('\r', '\n', '\r\n', 'x'.repeat(500), 'ok\r\n').map((text) => Buffer.from(text))), { maxLength: 12 }), cut),
  ],
};
