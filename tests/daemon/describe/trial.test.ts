import { describe, expect, it } from 'vitest';
import { Transcript, spokenText } from '../../../daemon/describe/transcript.ts';
import { resultsText, tryDevice, type TrialResult } from '../../../daemon/describe/trial.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import type { AsciiFarEnd } from '../../../simulators/farEnd/described/asciiFarEnd.ts';
import { DunlinDh12 } from '../../../simulators/farEnd/described/dunlinDh12.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { devicePlan, memoryLine, type DeviceFile } from '../../drivers/described/rig.ts';

/** Protects: a trial asks before anything moves or lights up, tells what was said, and ends with what works. No terminal, no real time. */

interface Tried<F> {
  readonly fake: F;
  readonly told: string;
  readonly asked: readonly string[];
  readonly results: readonly TrialResult[];
}

async function tried<F extends AsciiFarEnd>(name: DeviceFile, make: (clock: VirtualClock) => F, say: (question: string, fake: F) => boolean, changes: Readonly<Record<string, string>> = {}, interrupted?: AbortController): Promise<Tried<F>> {
  const clock = new VirtualClock({ startMs: 0 });
  const fake = make(clock);
  const told: string[] = [];
  const asked: string[] = [];
  const ask = async (question: string): Promise<boolean> => {
    asked.push(question);
    return say(question, fake);
  };
  const signal = (interrupted ?? new AbortController()).signal;
  const results = await tryDevice({ plan: devicePlan(name, changes), openWire: memoryLine(fake), clock, ask, tell: (line) => told.push(line), signal });
  return { fake, told: told.join('\n'), asked, results };
}

const outcomes = (results: readonly TrialResult[]): Record<string, string> => Object.fromEntries(results.map(({ what, outcome }) => [what, outcome]));
const quillfen = (clock: VirtualClock) => new QuillfenQf200(clock);
const marrowbeck = (clock: VirtualClock) => new MarrowbeckLt4(clock);

describe('a trial', () => {
  it('moves and lights nothing when nothing is wanted', async () => {
    const { fake, asked, results } = await tried('quillfen-qf200', quillfen, () => false);
    expect(fake.commands.filter((command) => !command.startsWith('?'))).toEqual([]);
    expect(asked).toHaveLength(5);
    expect(outcomes(results)).toEqual({
      'who is there': 'works',
      'stage: where it is': 'works',
      'stage: its state': 'works',
      'stage: there and back': 'notTried',
      'stage: stop': 'notTried',
      'stage: homing': 'notTried',
      'focus drive: where it is': 'works',
      'focus drive: up and back': 'notTried',
      'focus drive: homing': 'notTried',
      closing: 'works',
    });
    const box = await tried('marrowbeck-lt4', marrowbeck, () => false);
    expect(box.fake.commands.filter((command) => command.includes('='))).toEqual(['L=0']);
  });

  it('tries everything that is wanted, and shows what was said and understood', async () => {
    const { told, results } = await tried('quillfen-qf200', (clock) => {
      const fake = quillfen(clock);
      fake.z.put(20_000);
      return fake;
    }, () => true);
    expect(new Set(Object.values(outcomes(results)))).toEqual(new Set(['works']));
    expect(told).toContain('    → ?ID<CR>\n    ← QF200 v1.4 #0117                      understood');
    expect(told).toContain('    → MA 98000 62000<CR>');
    expect(told).toMatch(/← S M +understood\n {6}the same \d+ times more/);
    expect(told).toContain('went up to 1020 µm and back to 1000 µm');
  });

  it('leaves lamp and shutter off, also when reading fails in between', async () => {
    const { fake, results } = await tried('marrowbeck-lt4', marrowbeck, (question, box) => {
      if (question.startsWith('Light')) box.mute(9, 'L?');
      return true;
    });
    expect(outcomes(results)['lamp: on and off']).toBe('doesNotWork');
    expect(outcomes(results)['shutter: open and shut']).toBe('works');
    expect([fake.motors.L?.at, fake.motors.S?.at]).toEqual([0, 0]);
  });

  it('says in the end what does not work and why, and goes on with the rest', async () => {
    const { results, told } = await tried('quillfen-qf200', quillfen, (question) => question.startsWith('Move'), { '"P {x:integer} {y:integer}"': '"P={x:integer},{y:integer}"' });
    expect(outcomes(results)).toMatchObject({ 'stage: where it is': 'doesNotWork', 'stage: its state': 'works', 'stage: there and back': 'doesNotWork', 'focus drive: where it is': 'works' });
    expect(told).toContain('← P 100000 60000   (50 20 31 30 30 30 30 30 20 36 30 30 30 30)  NOT understood');
    expect(resultsText(results)).toMatch(/stage: where it is +does NOT work +A device gave an answer that cannot be read \(.*seen P 100000 60000/);
  });

  it('sends nothing else to another device', async () => {
    const { fake, results } = await tried('dunlin-dh12-scpi', (clock) => new DunlinDh12(clock), () => true, { 'Dunlin Hollow,DH-12,': 'Another Maker,DH-12,' });
    expect(fake.commands.every((command) => command === '*IDN?')).toBe(true);
    expect(results).toMatchObject([{ what: 'who is there', outcome: 'doesNotWork', note: expect.stringMatching(/Another kind of device answers.*44 75 6E 6C 69 6E/) as unknown }]);
  });

  it('interrupted, stops what moves, closes the line and says so', async () => {
    const interrupted = new AbortController();
    let box: QuillfenQf200 | undefined;
    const trial = tried('quillfen-qf200', (clock) => {
      box = quillfen(clock);
      void clock.sleep(100).then(() => interrupted.abort());
      return box;
    }, () => true, {}, interrupted);
    await expect(trial).rejects.toMatchObject({ code: 'interrupted' });
    expect(box?.x.isMoving).toBe(false);
    expect(box?.commands).toContain('HX');
  });
});

describe('a transcript', () => {
  it('shows what people could not read in hex, and counts what repeats', () => {
    const lines: string[] = [];
    const transcript = new Transcript((line) => lines.push(line));
    for (let i = 0; i < 3; i++) {
      transcript.hear({ kind: 'sent', text: '?S', terminator: '\r' });
      transcript.hear({ kind: 'heard', text: 'S\xb2M', as: 'stray' });
    }
    transcript.hear({ kind: 'sent', text: '\x1b', terminator: '' });
    transcript.hear({ kind: 'silence', waitedMs: 300 });
    transcript.flush();
    expect(lines).toEqual([expect.stringContaining('S<B2>M   (53 B2 4D)'), '      the same 2 times more', '    → <ESC>\n    … nothing for 300 ms']);
    expect(spokenText({ kind: 'unfinished', text: 'QF2' })).toBe('    ← QF2   (51 46 32)   and no end of the line');
  });
});
