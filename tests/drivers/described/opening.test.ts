import { describe, expect, it } from 'vitest';
import type { Clock } from '../../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import type { FarEar, FarEnd, FarLink } from '../../../simulators/farEnd/described/asciiFarEnd.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { devicePlan, openOverMemory } from './rig.ts';

/** Protects: who is at the other end is found out before anything else is sent, and told with what was seen. */

const bytes = (text: string): Uint8Array => Uint8Array.from(text, (character) => character.charCodeAt(0));

/** Says the same to whatever it hears, and notes what that was. */
class Parrot implements FarEnd {
  readonly heard: string[] = [];
  readonly #says: (link: FarLink) => void;

  constructor(says: (link: FarLink) => void) {
    this.#says = says;
  }

  connected(link: FarLink): FarEar {
    return {
      received: (received) => {
        this.heard.push(String.fromCharCode(...received));
        this.#says(link);
      },
      gone: () => undefined,
    };
  }
}

function open(farEnd: FarEnd | ((clock: Clock) => FarEnd), changes: Readonly<Record<string, string>> = {}) {
  const clock = new VirtualClock({ startMs: 0 });
  const far = typeof farEnd === 'function' ? farEnd(clock) : farEnd;
  return openOverMemory(devicePlan('quillfen-qf200', changes), far, clock);
}

describe('who is there', () => {
  it('nobody: what was sent, and how long was waited', async () => {
    const silent = new Parrot(() => undefined);
    await expect(open(silent)).rejects.toMatchObject({ code: 'noAnswer', details: { line: 'memory', device: 'Quillfen QF-200', sent: '?ID', waitedMs: 900 } });
    expect(silent.heard).toEqual(['?ID\r', '?ID\r', '?ID\r']);
  });

  it('another device: what it said, in hex too', async () => {
    const other = new Parrot((link) => link.send(bytes('SCALE 4.2 g\r\n')));
    await expect(open(other)).rejects.toMatchObject({
      code: 'wrongDevice',
      details: { expected: 'QF200 v{version:number} #{serial:word}', seen: expect.stringContaining('SCALE 4.2 g') as unknown, seenHex: expect.stringContaining('53 43 41 4C 45 20 34 2E 32 20 67') as unknown },
    });
    expect(new Set(other.heard)).toEqual(new Set(['?ID\r']));
  });

  it('another described device, which refuses the question in its own words', async () => {
    await expect(open((clock) => new MarrowbeckLt4(clock))).rejects.toMatchObject({ code: 'noAnswer' });
    const clock = new VirtualClock({ startMs: 0 });
    await expect(openOverMemory(devicePlan('marrowbeck-lt4'), new QuillfenQf200(clock), clock)).rejects.toMatchObject({ code: 'noAnswer' });
  });

  it('noise: the wrong baud rate makes bytes that are no text', async () => {
    const noise = new Parrot((link) => link.send(Uint8Array.of(0xe6, 0x00, 0x9e, 0xfe, 0x66, 0x86)));
    await expect(open(noise)).rejects.toMatchObject({ code: 'garbled', details: { seenHex: expect.stringMatching(/^E6 00 9E FE 66 86/) as unknown } });
  });

  it('the right one, which ends its lines otherwise than described', async () => {
    const shorter = { 'replyTerminator: <CR><LF>': 'replyTerminator: <LF>' };
    await expect(open((clock) => new QuillfenQf200(clock), shorter)).rejects.toMatchObject({ code: 'badReply', details: { what: expect.stringContaining('not ended by <LF>') as unknown } });
    const other = { 'replyTerminator: <CR><LF>': 'replyTerminator: <LF><CR>' };
    await expect(open((clock) => new QuillfenQf200(clock), other)).rejects.toMatchObject({ code: 'badReply' });
  });

  it('the right one, behind a greeting and noise of its start', async () => {
    const late = new Parrot((link) => link.send(bytes('\x00\xffWelcome\r\nQF200 v1.4 #0117\r\n')));
    const { device } = await open(late);
    expect(device.identity).toEqual({ version: 1.4, serial: '0117' });
  });

  it('the right one, which was silent at first', async () => {
    const { device } = await open((clock) => {
      const fake = new QuillfenQf200(clock);
      fake.mute(2);
      return fake;
    });
    expect(device.identity).toMatchObject({ serial: '0117' });
  });
});
