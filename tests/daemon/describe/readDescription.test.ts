import fc from 'fast-check';
import { stringify } from 'yaml';
import { describe, expect, it } from 'vitest';
import { parseDescription } from '../../../daemon/describe/readDescription.ts';
import { summaryText } from '../../../daemon/describe/summary.ts';
import { isNightjarError } from '../../../daemon/errors/nightjarError.ts';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import { VirtualClock } from '../../../simulators/clock/virtualClock.ts';
import type { FarEnd } from '../../../simulators/farEnd/described/asciiFarEnd.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import { deviceText, openOverMemory, type DeviceFile } from '../../drivers/described/rig.ts';

/** Protects: what is wrong in a description is named with its line and what is wanted; nothing that a file may hold makes the reader fail. */

const files: readonly DeviceFile[] = ['quillfen-qf200', 'marrowbeck-lt4', 'dunlin-dh12-scpi'];

/** What is said of a shipped description with one piece of its text replaced. */
function complaint(name: DeviceFile, from: string, to: string): string {
  const before = deviceText(name);
  expect(before).toContain(from);
  const text = before.replace(from, to);
  try {
    parseDescription({ text, file: 'mine.yaml' });
  } catch (error) {
    return sentenceFor(error).sentence;
  }
  return 'in order';
}

function lineOf(name: DeviceFile, part: string): number {
  return deviceText(name).split('\n').findIndex((line) => line.includes(part)) + 1;
}

describe('the shipped descriptions', () => {
  it.each(files)('%s is in order and can be told in words', (name) => {
    const { description } = parseDescription({ text: deviceText(name), file: `${name}.yaml` });
    const told = summaryText(description);
    expect(told.startsWith(`${description.maker} ${description.model}\n`)).toBe(true);
    expect(told).not.toMatch(/undefined|\[object|NaN/);
  });
});

describe('a description with a mistake is refused with line and remedy', () => {
  const stageStop = '  stop:\n    - { send: "HX", expect: "OK" }\n';
  const turretStop = '  stop:\n    - { send: <ESC>, bare: true, expect: "HALT" }\n';
  it.each<[string, DeviceFile, string, string, string, string]>([
    ['unknown key', 'quillfen-qf200', '  replyWithinMs: 300', '  replyWithin: 300', '  replyWithinMs: 300', 'unknown key "replyWithin"; the nearest valid key is "replyWithinMs"'],
    ['unknown key in a step', 'quillfen-qf200', '{ send: "HX", expect: "OK" }', '{ sent: "HX", expect: "OK" }', 'send: "HX"', 'unknown key "sent"; the nearest valid key is "send"'],
    ['unknown value', 'quillfen-qf200', '"MA {x} {y}"', '"MA {x} {Y}"', 'MA {x} {y}', 'unknown value {Y}; the nearest is "y" (here belong x, y, speed)'],
    ['value never sent', 'quillfen-qf200', '"MA {x} {y}"', '"MA {x}"', 'moveTo:', 'nothing here sends {y}'],
    ['unknown field', 'quillfen-qf200', '"P {x:integer} {y:integer}"', '"P {x:integer} {z:integer}"', 'P {x:integer} {y:integer}', 'unknown field {z}'],
    ['field that is no number', 'quillfen-qf200', '"Z {z:integer}"', '"Z {z:word}"', 'send: "?Z"', '{z} must be a number or integer'],
    ['stage without a stop', 'quillfen-qf200', stageStop, '', 'stage:', 'what moves and cannot be stopped is not accepted'],
    ['turret without a stop', 'marrowbeck-lt4', turretStop, '', 'turret:', 'it moves and there is no stop'],
    ['question without an answer', 'quillfen-qf200', '{ send: "?Z", expect: "Z {z:integer}" }', '{ send: "?Z" }', 'send: "?Z"', 'say what is expected as an answer'],
    ['limits the wrong way round', 'quillfen-qf200', 'xMinUm: 0, xMaxUm: 20000', 'xMinUm: 0, xMaxUm: -1', 'xMinUm: 0', 'must be more than the lower end (0), not -1'],
    ['scale of nothing', 'quillfen-qf200', 'x: { unitsPerUm: 10 }', 'x: { unitsPerUm: 0 }', 'x: { unitsPerUm', 'be another number than 0'],
    ['place and way in one move', 'quillfen-qf200', '"MA {x} {y}"', '"MA {x} {dy}"', 'MA {x} {y}', 'not both'],
    ['terminator in a command', 'quillfen-qf200', '"MA {x} {y}"', '"MA {x} {y}<CR>"', 'MA {x} {y}', 'it is added by itself'],
    ['pattern without an end', 'quillfen-qf200', '"P {x:integer} {y:integer}"', '"P {x:integer}{y:integer}"', 'P {x:integer} {y:integer}', 'it cannot be told where the field x ends'],
    ['regular expression instead of a pattern', 'quillfen-qf200', '"Z {z:integer}"', '"Z ([0-9]{1,5})"', 'Z {z:integer}', 'unknown field {1,5}'],
    ['not ASCII', 'marrowbeck-lt4', '"L={intensity}"', '"L={intensity}µ"', 'L={intensity}', 'not ASCII'],
    ['number in words', 'quillfen-qf200', 'maxSpeedUmPerS: 20000', 'maxSpeedUmPerS: fast', 'maxSpeedUmPerS: 20000', 'must be a number, not "fast"'],
    ['meaning that is none', 'quillfen-qf200', 'means: restarted', 'means: rebooted', 'means: restarted', 'must be one of ignored, error, positionLost, restarted'],
  ])('%s', (_what, name, from, to, at, said) => {
    const sentence = complaint(name, from, to);
    expect(sentence).toContain(said);
    expect(sentence).toContain(`line ${lineOf(name, at)},`);
  });

  it('a turret may say that it has no stop', () => {
    expect(complaint('marrowbeck-lt4', turretStop, '  cannotStop: true\n')).toBe('in order');
  });

  it('one that describes no part, and one that is no mapping', () => {
    expect(complaint('dunlin-dh12-scpi', deviceText('dunlin-dh12-scpi').slice(deviceText('dunlin-dh12-scpi').indexOf('lamp:\n')), '')).toContain('describes no part');
    expect(() => parseDescription({ text: '- 1\n- 2\n', file: 'x' })).toThrow();
  });
});

describe('whatever a file holds', () => {
  const key = fc.constantFrom('maker', 'model', 'line', 'identify', 'send', 'expect', 'stage', 'focus', 'lamp', 'turret', 'scale', 'set', 'stop', 'done', 'checks', 'moveTo', 'position', 'errors', '__proto__', 'constructor', 'x');
  const leaf = fc.oneof(fc.string({ maxLength: 30 }), fc.integer(), fc.double(), fc.boolean(), fc.constant(null), fc.constantFrom('{x}', '{x:number}', '{', '<CR>', '{speed}', ''));
  const { tree } = fc.letrec((tie) => ({ tree: fc.oneof({ depthSize: 'small', maxDepth: 4 }, leaf, fc.dictionary(key, tie('tree'), { maxKeys: 6 }), fc.array(tie('tree'), { maxLength: 4 })) }));

  function outcome(text: string): string {
    try {
      parseDescription({ text, file: 'fuzz.yaml' });
      return 'in order';
    } catch (error) {
      if (!isNightjarError(error) || error.code !== 'badConfig') throw error;
      expect(sentenceFor(error).sentence).not.toMatch(/undefined|\[object/);
      return error.code;
    }
  }

  it('the reader answers with problems and never fails', () => {
    fc.assert(fc.property(tree, (data) => ['in order', 'badConfig'].includes(outcome(stringify(data)))), { numRuns: 200 });
  });

  it('a shipped description with pieces replaced by anything is in order or refused', () => {
    const scalars = files.flatMap((name) => [...deviceText(name).matchAll(/: ("[^"\n]*"|\[[^\]\n]*\]|[\w.<>-]+)/g)].map((found) => ({ name, at: found.index + 2, length: (found[1] ?? '').length })));
    fc.assert(
      fc.property(fc.constantFrom(...scalars), leaf, ({ name, at, length }, value) => {
        const text = deviceText(name);
        outcome(text.slice(0, at) + JSON.stringify(value) + text.slice(at + length));
      }),
      { numRuns: 200 },
    );
  });
});

describe('whatever a device says', () => {
  /** Answers every command by the next of these bytes. */
  function babbler(answers: readonly Uint8Array[]): FarEnd {
    let next = 0;
    return { connected: (link) => ({ received: () => link.send(answers[next++ % answers.length] ?? new Uint8Array()), gone: () => undefined }) };
  }

  it('the driver ends with a value or one of its errors, in bounded time', async () => {
    const { plan } = parseDescription({ text: deviceText('quillfen-qf200'), file: 'x' });
    const nearly = fc.constantFrom('QF200 v1.4 #0117', 'R 1', 'P 1 2', 'P 1', 'OK', 'S I', 'S M', 'S A 1', 'E2', '*BOOT QF200 v1.4', '*LIMIT X', '').map((text) => Buffer.from(`${text}\r\n`));
    const noise = fc.oneof(nearly, fc.uint8Array({ maxLength: 40 }));
    await fc.assert(
      fc.asyncProperty(fc.array(noise, { minLength: 1, maxLength: 12 }), async (answers) => {
        const clock = new VirtualClock({ startMs: 0 });
        const outcomes = await Promise.allSettled([
          openOverMemory(plan, babbler([Buffer.from('QF200 v1.4 #0117\r\n'), ...answers]), clock).then(async ({ device: { parts } }) => {
            await parts.stage?.position().catch((error: unknown) => expect(error).toBeInstanceOf(DriverError));
            await parts.stage?.moveTo({ xUm: 5000, yUm: 5000 });
          }),
        ]);
        for (const each of outcomes) if (each.status === 'rejected') expect(each.reason).toBeInstanceOf(DriverError);
        expect(clock.now()).toBeLessThan(120_000);
      }),
      { numRuns: 150 },
    );
  });
});
