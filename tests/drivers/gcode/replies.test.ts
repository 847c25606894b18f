import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { LineReader } from '../../../drivers/line/lineReader.ts';
import { parseReply } from '../../../drivers/gcode/reply.ts';
import { parseStatus } from '../../../drivers/gcode/statusReport.ts';

/** Fixed seed: what fails once fails again. */
function held<T>(from: fc.Arbitrary<T>, check: (value: T) => void): void {
  fc.assert(fc.property(from, check), { seed: 11, numRuns: 200 });
}

// Forms of lines: documentation of the open-source firmware grbl 1.1, "interface" and "jogging", from memory.
describe('a status report', () => {
  it('with machine positions', () => {
    expect(parseStatus('<Idle|MPos:0.000,0.000,0.000|FS:0.0,0>')).toEqual({ state: 'Idle', subState: undefined, isMachine: true, positionMm: [0, 0, 0], workOffsetMm: undefined, pins: '' });
  });
  it('with work positions, offset, buffers and overrides', () => {
    const report = parseStatus('<Jog|WPos:1.000,-2.500,3.125|Bf:15,128|FS:500,0|WCO:-10.000,0.000,5.000>');
    expect(report).toMatchObject({ state: 'Jog', isMachine: false, positionMm: [1, -2.5, 3.125], workOffsetMm: [-10, 0, 5] });
    expect(parseStatus('<Run|MPos:0.000,-10.000,5.000|FS:0,0|Ov:100,100,100|A:SFM>')).toMatchObject({ state: 'Run' });
  });
  it('of a hold, a door and an alarm with a pin', () => {
    expect(parseStatus('<Hold:1|MPos:0.000,0.000,0.000|FS:12,0>')).toMatchObject({ state: 'Hold', subState: 1 });
    expect(parseStatus('<Door:2|MPos:0.000,0.000,0.000|F:0|Pn:XZD>')).toMatchObject({ state: 'Door', subState: 2, pins: 'XZD' });
    expect(parseStatus('<Alarm|MPos:-1.000,-1.000,-1.000|FS:0,0|Pn:PX>')).toMatchObject({ state: 'Alarm', pins: 'PX' });
  });
  it('of four axes', () => {
    expect(parseStatus('<Idle|MPos:0.000,0.000,0.000,7.500|FS:0,0>')?.positionMm).toEqual([0, 0, 0, 7.5]);
  });
  it.each([
    '<Idle|MPos:0.000,0.000|FS:0,0>',
    '<Idle|MPos:0.00,0.000,0.000|FS:0,0>',
    '<Idle|MPos:0.0p0,0.000,0.000|FS:0,0>',
    '<Idle|MPos:0.000,0.000,0.000|FS:0,0',
    'Idle|MPos:0.000,0.000,0.000|FS:0,0>',
    '<Ydle|MPos:0.000,0.000,0.000|FS:0,0>',
    '<Idle|MPOs:0.000,0.000,0.000|FS:0,0>',
    '<Idle|MPos:0.000,0.000,0.000|MPos:0.000,0.000,0.000>',
    '<Idle|MPos:0.000,0.000,0.000|WCO:0.000,0.000>',
    '<Idle|MPos:0.000,0.000,0.000|FS 0,0>',
    '<Idle|FS:0,0>',
    '<Idle|MPos:0.000,0.000,0.000|FS:0,0>ok',
    '<>',
  ])('that is spoilt is none: %s', (line) => {
    expect(parseStatus(line)).toBeUndefined();
    expect(parseReply(line).kind).toBe('unreadable');
  });
});

describe('a line', () => {
  it.each([
    ['ok', { kind: 'ok' }],
    ['error:15', { kind: 'error', code: 15 }],
    ['ALARM:1', { kind: 'alarm', code: 1 }],
    ["Grbl 1.1h ['$' for help]", { kind: 'banner' }],
    ['$100=250.000', { kind: 'setting', number: 100, value: 250 }],
    ['$10=1', { kind: 'setting', number: 10, value: 1 }],
    ["[MSG:'$H'|'$X' to unlock]", { kind: 'message' }],
    ['[VER:1.1h.20190830:]', { kind: 'message' }],
    ['oK', { kind: 'unreadable' }],
    ['error:', { kind: 'unreadable' }],
    ['$100=25x.000', { kind: 'unreadable' }],
    // A restart must not be taken for noise: half a banner is one.
    ["Gsbl 1.1h ['$' for help]", { kind: 'banner' }],
    ['Grbl 1.1h [\'$\' fOr hElp]', { kind: 'banner' }],
  ])('%s', (line, reply) => {
    expect(parseReply(line)).toMatchObject(reply);
  });

  it('of any bytes at all ends as something, and the reader holds no more than its bound', () => {
    held(fc.array(fc.uint8Array({ maxLength: 200 }), { maxLength: 20 }), (parcels) => {
      const reader = new LineReader(64);
      for (const parcel of parcels) {
        for (const heard of reader.push(parcel)) {
          if (heard.kind === 'garbled') expect(heard.bytes.length).toBeLessThanOrEqual(64);
          else expect(parseReply(heard.text).kind).toMatch(/^[a-z]+$/);
        }
      }
    });
  });

  it('is the same however its bytes are cut', () => {
    const bytes = Buffer.from("\r\nGrbl 1.1h ['$' for help]\r\n<Idle|MPos:0.000,0.000,0.000|FS:0,0>\r\nok\r\n\u00ff\u0000\r\n", 'latin1');
    const whole = new LineReader().push(bytes);
    expect(whole.map(({ kind }) => kind)).toEqual(['text', 'text', 'text', 'garbled']);
    held(fc.array(fc.nat(bytes.length), { maxLength: 8 }), (cuts) => {
      const reader = new LineReader();
      const places = [0, ...cuts.sort((a, b) => a - b), bytes.length];
      const heard = places.slice(1).flatMap((end, i) => reader.push(bytes.subarray(places[i], end)));
      expect(heard).toEqual(whole);
    });
  });

  it('with one bit changed is never read as another position of the same report, unless it is a digit', () => {
    const line = '<Idle|MPos:-12.345,5.000,0.000|FS:0,0>';
    held(fc.tuple(fc.nat(line.length - 1), fc.nat(7)), ([place, bit]) => {
      const changed = line.slice(0, place) + String.fromCharCode(line.charCodeAt(place) ^ (1 << bit)) + line.slice(place + 1);
      const report = parseStatus(changed);
      const isOfPosition = place >= line.indexOf(':') && place < line.indexOf('|FS');
      if (report && !isOfPosition) expect(report.positionMm).toEqual([-12.345, 5, 0]);
    });
  });
});
