import { describe, expect, it } from 'vitest';
import fc from 'fast-check';
import { bytes, counted, figure, lengthUm } from '../../../daemon/errors/index.ts';
import { particulars } from '../../../daemon/errors/words.ts';

describe('figures in words', () => {
  it.each([
    [0, '0'],
    [-0.01, '0'],
    [-3, '\u22123'],
    [41.25, '41.3'],
    [9999, '9999'],
    [12_345.6, '12\u2009345.6'],
    [-1_234_567, '\u22121\u2009234\u2009567'],
    [Number.NaN, 'not a number'],
  ])('%s is %s', (value, text) => expect(figure(value)).toBe(text));

  it('reads back as the number it was', () => {
    fc.assert(
      fc.property(fc.double({ min: -1e9, max: 1e9, noNaN: true }), (value) => {
        const back = Number(figure(value, 3).replaceAll('\u2009', '').replace('\u2212', '-'));
        expect(Math.abs(back - value)).toBeLessThanOrEqual(0.000_51);
      }),
    );
  });

  it('chooses the unit that suits', () => {
    expect(lengthUm(41)).toBe('41 µm');
    expect(lengthUm(-4200)).toBe('\u22124.2 mm');
    expect(bytes(38e9)).toBe('38 GB');
    expect(bytes(1)).toBe('1 byte');
    expect(counted(1, 'try', 'tries')).toBe('1 try');
    expect(counted(2, 'try', 'tries')).toBe('2 tries');
  });

  it('reads units off the names', () => {
    expect(particulars({})).toBe('');
    expect(particulars({ speedUmPerS: 20_000, exposureMs: 4, gainDb: 3, device: 'stage' })).toBe(' (speed 20\u2009000 µm/s, exposure 4 ms, gain 3 dB, device stage)');
  });
});
