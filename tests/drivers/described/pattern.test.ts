import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hexOf, visible, withControls } from '../../../drivers/described/controlCharacters.ts';
import { match, readPattern, type Fields } from '../../../drivers/described/pattern.ts';
import { fromUnits, numberText, roundedDown, toUnits } from '../../../drivers/described/scale.ts';
import { fill, readTemplate } from '../../../drivers/described/template.ts';

/** Protects: a pattern fits whole lines only, never hangs, and takes nothing for a number that is none. What should match is told by hand. */

function matched(pattern: string, line: string): Record<string, unknown> | undefined {
  const read = readPattern(pattern, 'any');
  if (!('pattern' in read)) throw new Error(read.problem.code);
  const fields = match(read.pattern, line);
  return fields && Object.fromEntries(fields);
}

describe('a pattern', () => {
  it.each<[string, string, Record<string, unknown>]>([
    ['OK', 'OK', {}],
    ['POS {x:number} {y:number}', 'POS 12.50 -3', { x: 12.5, y: -3 }],
    ['POS {x:number} {y:number}', 'POS   12.50     -3', { x: 12.5, y: -3 }],
    ['{i:number}', '+3.50000E-01', { i: 0.35 }],
    ['{x:number}mm', '.5mm', { x: 0.5 }],
    ['E{code:integer} {text:text}', 'E7 door open, lamp off', { code: 7, text: 'door open, lamp off' }],
    ['{code:integer},"{text:text}"', '-113,"Undefined header;""FOO"""', { code: -113, text: 'Undefined header;""FOO""' }],
    ['ID {a:text},{b:text}', 'ID one, two,three', { a: 'one', b: ' two,three' }],
    ['{_:word} {_:word} {n:integer}', 'a b 5', { n: 5 }],
    ['{{{n:integer}}}', '{5}', { n: 5 }],
    ['<STX>{n:integer}<ETX>', '\x025\x03', { n: 5 }],
  ])('%j fits %j', (pattern, line, fields) => {
    expect(matched(pattern, line)).toEqual(fields);
  });

  it.each([
    ['OK', 'OK '],
    ['OK', 'ok'],
    ['OK', ' OK'],
    ['OK', 'OKOK'],
    ['P {x:number}', 'P 1.2.3'],
    ['P {x:number}', 'P --1'],
    ['P {x:number}', 'P 0x10'],
    ['P {x:number}', 'P 1e999'],
    ['P {x:number}', 'P NaN'],
    ['P {x:number}', 'P '],
    ['P {x:number}', 'P1'],
    ['P {x:integer}', 'P 1.5'],
    ['P {x:number}', 'P 1234567890123456789'],
    ['S {w:word}', 'S two words'],
    ['POS {x:number} {y:number}', 'POS 12.50-3'],
  ])('%j does not fit %j', (pattern, line) => {
    expect(matched(pattern, line)).toBeUndefined();
  });

  it.each([
    ['{a:number}{b:number}', 'endlessField'],
    ['{a:number}5', 'endlessField'],
    ['{a:word}-{b:word}', 'endlessField'],
    ['{a:number} {a:number}', 'fieldTwice'],
    ['{a:float}', 'unknownType'],
    ['{a:number:x}', 'unknownType'],
    ['{:number}', 'unknownField'],
    ['{a', 'brokenBraces'],
    ['a}', 'brokenBraces'],
    ['{a{b}}', 'brokenBraces'],
    ['µ', 'notAscii'],
  ])('%j is refused as %s', (pattern, code) => {
    expect(readPattern(pattern, 'any')).toMatchObject({ problem: { code } });
  });

  it('never throws and ends at once, whatever pattern meets whatever line', () => {
    const piece = fc.constantFrom('{a:number}', '{b:text}', '{_:word}', ' ', ',', 'x', '{', '}', '<CR>', '-');
    const line = fc.oneof(fc.string({ unit: 'binary', maxLength: 300 }), fc.array(fc.constantFrom('x', ' ', ',', '1', '-'), { maxLength: 300 }).map((all) => all.join('')));
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 12 }), line, (pieces, text) => {
        const read = readPattern(pieces.join(''), 'any');
        const fields: Fields | undefined = 'pattern' in read ? match(read.pattern, text) : undefined;
        for (const value of fields?.values() ?? []) expect(typeof value === 'string' || Number.isFinite(value)).toBe(true);
      }),
      { numRuns: 700 },
    );
  });

  it('gives back what was filled into a template of the same form', () => {
    const form = 'P {x} {y}';
    fc.assert(
      fc.property(fc.double({ min: -1e6, max: 1e6, noNaN: true }), fc.integer({ min: -1e6, max: 1e6 }), (x, y) => {
        const read = readTemplate(form, ['x', 'y']);
        if (!('template' in read)) throw new Error('template');
        const format = { decimals: 3, digits: 1, plus: false };
        const line = fill(read.template, { x: numberText(x, format), y: numberText(y, { ...format, decimals: 0 }) });
        expect(matched('P {x:number} {y:integer}', line)).toEqual({ x: expect.closeTo(x, 2), y });
      }),
    );
  });
});

describe('numbers for a device', () => {
  const plain = { decimals: 2, digits: 1, plus: false };
  it.each([
    [-0.001, plain, '0.00'],
    [-12.5, { decimals: 2, digits: 4, plus: true }, '-0012.50'],
    [3, { decimals: 0, digits: 1, plus: true }, '+3'],
    [1e9, { decimals: 0, digits: 1, plus: false }, '1000000000'],
  ])('%d is written as asked', (value, format, text) => {
    expect(numberText(value, format)).toBe(text);
  });

  it('come back as they were, to half a step', () => {
    const scale = fc.record({ slope: fc.constantFrom(-20, -0.1, 0.05, 10, 1000), offset: fc.integer({ min: -1000, max: 1000 }), decimals: fc.integer({ min: 0, max: 4 }) });
    fc.assert(
      fc.property(scale, fc.double({ min: -1e5, max: 1e5, noNaN: true }), (raw, um) => {
        const there = { ...raw, digits: 1, plus: false };
        const step = 10 ** -raw.decimals / Math.abs(raw.slope);
        expect(Math.abs(fromUnits(there, toUnits(there, um)) - um)).toBeLessThanOrEqual(0.51 * step + 1e-9);
      }),
    );
  });

  it('speeds are rounded down, so that nothing is ever faster than asked', () => {
    expect([roundedDown(2828.9, 0), roundedDown(0.3 * 1000, 0), roundedDown(0.019, 2)]).toEqual([2828, 300, 0.01]);
  });
});

describe('control characters', () => {
  it('are written and shown by their names in ASCII', () => {
    // ECMA-6, table 1: STX 0x02, CR 0x0D, LF 0x0A, ESC 0x1B, DEL 0x7F.
    expect(withControls('<STX>M<CR><LF><ESC><DEL><Idle|<X1>')).toBe('\x02M\r\n\x1b\x7f<Idle|<X1>');
    expect(visible('\x02M\r\n\xb2')).toBe('<STX>M<CR><LF><B2>');
    expect(hexOf('M\r\xb2')).toBe('4D 0D B2');
  });
});
