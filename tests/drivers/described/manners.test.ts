import { describe, expect, it } from 'vitest';
import { parseDescription } from '../../../daemon/describe/readDescription.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import type { FarEnd } from '../../../simulators/farEnd/described/asciiFarEnd.ts';
import { must, openOverMemory } from './rig.ts';

/** Protects: what a description may say of the manner of speaking that none of the shipped devices has. Devices here are a few lines of script. */

interface Noted {
  readonly atMs: number;
  readonly text: string;
}

/** Answers each command by what the script has for it, and notes when it came. */
function scripted(clock: VirtualClock, script: Readonly<Record<string, string>>): { readonly farEnd: FarEnd; readonly noted: Noted[] } {
  const noted: Noted[] = [];
  const farEnd: FarEnd = {
    connected: (link) => ({
      received(bytes) {
        const text = String.fromCharCode(...bytes);
        noted.push({ atMs: clock.now(), text });
        const answer = script[text];
        if (answer !== undefined) link.send(Uint8Array.from(answer, (character) => character.charCodeAt(0)));
      },
      gone: () => undefined,
    }),
  };
  return { farEnd, noted };
}

async function open(text: string, script: Readonly<Record<string, string>>) {
  const clock = new VirtualClock({ startMs: 0 });
  const { farEnd, noted } = scripted(clock, script);
  const { device } = await openOverMemory(parseDescription({ text, file: 'scripted.yaml' }).plan, farEnd, clock);
  return { clock, device, noted };
}

const head = 'maker: Somebody\nmodel: X-1\n';
const dimmer = `${head}line: { terminator: ;, delayMs: 40, settleMs: 2000 }
identify: { send: W, expect: "X1", followedBy: "END" }
lamp:
  scale: { unitsAtZero: 255, unitsAtFull: 0, digits: 3 }
  set: [{ send: "<STX>L{intensity}", expect: "<ACK>", errors: ["<NAK>{code:integer}"] }]
`;

describe('manners', () => {
  it('a start that takes its time, pauses between commands, a second line, control characters, a scale that falls, zeros in front', async () => {
    const { device, noted } = await open(dimmer, { 'W;': 'X1;END;', '\x02L255;': '\x06;', '\x02L128;': '\x06;' });
    const lamp = must(device.parts.lamp);
    await lamp.setIntensity(0);
    await lamp.setIntensity(0.5);
    expect(noted.map(({ text }) => text)).toEqual(['W;', '\x02L255;', '\x02L128;']);
    expect(noted[0]?.atMs).toBe(2000);
    expect((noted[2]?.atMs ?? 0) - (noted[1]?.atMs ?? 0)).toBeGreaterThanOrEqual(40);
  });

  it('a lamp that cannot be read says what it was set to, and before that that it cannot', async () => {
    const { device } = await open(dimmer, { 'W;': 'X1;END;', '\x02L064;': '\x06;' });
    const lamp = must(device.parts.lamp);
    await expect(lamp.intensity()).rejects.toMatchObject({ code: 'unsupported' });
    await lamp.setIntensity(0.75);
    expect(await lamp.intensity()).toBe(0.75);
  });

  it('a command that is refused in its own way', async () => {
    const { device } = await open(dimmer, { 'W;': 'X1;END;', '\x02L255;': '\x157;' });
    await expect(must(device.parts.lamp).setIntensity(0)).rejects.toMatchObject({ code: 'deviceError', details: { code: 7, seen: '<NAK>7' } });
  });

  it('a stage with a question and a command for each axis, speed inside the move, and signs and digits as it wants them', async () => {
    const text = `${head}identify: { send: "?", expect: "X" }
stage:
  travel: { xMinUm: -100, xMaxUm: 100, yMinUm: -100, yMaxUm: 100 }
  x: { unitsPerUm: 0.001, decimals: 3, plus: true }
  y: { unitsPerUm: 0.001, decimals: 3, plus: true }
  maxSpeedUmPerS: 1000
  speed: { unitsPerUmPerS: 0.001, decimals: 2, perAxis: false }
  position: [{ send: X?, expect: "X{x:number}mm" }, { send: Y?, expect: "Y{y:number}mm" }]
  moveTo: [{ send: "GX{x}F{speed}", expect: ok }, { send: "GY{y}F{speed}", expect: ok }]
  stop: [{ send: S, bare: true }]
`;
    const { device, noted } = await open(text, { '?\r': 'X\r', 'X?\r': 'X+0.050mm\r', 'Y?\r': 'Y-0.020mm\r', 'GX+0.050F0.40\r': 'ok\r', 'GY-0.020F0.40\r': 'ok\r' });
    expect(await must(device.parts.stage).moveTo({ xUm: 50, yUm: -20 }, { speedUmPerS: 405 })).toEqual({ xUm: 50, yUm: -20 });
    expect(noted.map(({ text: sent }) => sent)).toContain('GY-0.020F0.40\r');
  });

  it('only the parts in use keep the line', async () => {
    const { device } = await open(dimmer, { 'W;': 'X1;END;' });
    await must(device.parts.lamp).close();
    await expect(must(device.parts.lamp).intensity()).rejects.toMatchObject({ code: 'closed' });
    await device.close();
  });
});
