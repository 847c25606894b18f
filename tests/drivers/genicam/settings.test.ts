import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { automatics, isOff, offWithin } from '../../../drivers/genicam/automatics.ts';
import { checkSettings, enclosingRegion, wholeSensor, type AxisBounds } from '../../../drivers/genicam/geometry.ts';
import { LibraryError, type LibraryProblem } from '../../../drivers/genicam/fallible.ts';
import { asDriverError, fromProblem, toProblem } from '../../../drivers/genicam/problems.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';

const axis = (maxPx: number, stepPx = 1, offsetStepPx = 1, minPx = 1): AxisBounds => ({ minPx, maxPx, stepPx, offsetStepPx });

describe('regions', () => {
  it('is the one asked for where the camera can cut anywhere', () => {
    const region = { colPx: 4, rowPx: 6, widthPx: 8, heightPx: 5 };
    expect(enclosingRegion(region, { across: axis(2048), down: axis(2048) })).toEqual(region);
  });
  it('by hand: steps of 16 px, beginning at multiples of 8', () => {
    const sensor = { across: axis(2048, 16, 8, 16), down: axis(100, 4, 2, 4) };
    expect(enclosingRegion({ colPx: 5, rowPx: 6, widthPx: 9, heightPx: 5 }, sensor)).toEqual({ colPx: 0, rowPx: 6, widthPx: 16, heightPx: 8 });
    // 4 rows at 97 would reach over the edge: 96 to 100 holds them.
    expect(enclosingRegion({ colPx: 2040, rowPx: 97, widthPx: 8, heightPx: 3 }, sensor)).toEqual({ colPx: 2032, rowPx: 96, widthPx: 16, heightPx: 4 });
  });
  it('always holds what was asked for, and can always be set', () => {
    const place = fc.record({ max: fc.integer({ min: 16, max: 300 }), step: fc.constantFrom(1, 2, 4, 16), offsetStep: fc.constantFrom(1, 2, 8), start: fc.nat(299), length: fc.integer({ min: 1, max: 300 }) });
    fc.assert(fc.property(place, ({ max, step, offsetStep, start, length }) => {
      const maxPx = Math.floor(max / step) * step;
      const colPx = start % maxPx;
      const widthPx = Math.min(length, maxPx - colPx);
      const across = axis(maxPx, step, offsetStep, step);
      const found = enclosingRegion({ colPx, rowPx: 0, widthPx, heightPx: 1 }, { across, down: axis(1) });
      expect(found.colPx).toBeLessThanOrEqual(colPx);
      expect(found.colPx + found.widthPx).toBeGreaterThanOrEqual(colPx + widthPx);
      expect(found.colPx + found.widthPx).toBeLessThanOrEqual(maxPx);
      expect([found.colPx % offsetStep, found.widthPx % step]).toEqual([0, 0]);
    }));
  });
});

describe('bounds', () => {
  const bounds = { exposureMinMs: 0.01, exposureMaxMs: 10_000, gainMinDb: 0, gainMaxDb: 10, sensor: { across: axis(64), down: axis(48) } };
  it.each([
    [{ exposureMs: 0.005, gainDb: 0 }, 'exposureRange'],
    [{ exposureMs: 10_001, gainDb: 0 }, 'exposureRange'],
    [{ exposureMs: Number.NaN, gainDb: 0 }, 'exposureRange'],
    [{ exposureMs: 1, gainDb: 99 }, 'unsupported'],
    [{ exposureMs: 1, gainDb: Number.NaN }, 'unsupported'],
    [{ exposureMs: 1, gainDb: 0, region: { colPx: 60, rowPx: 0, widthPx: 8, heightPx: 8 } }, 'unsupported'],
    [{ exposureMs: 1, gainDb: 0, region: { colPx: 0, rowPx: 0.5, widthPx: 8, heightPx: 8 } }, 'unsupported'],
    [{ exposureMs: 1, gainDb: 0, region: { colPx: 0, rowPx: 0, widthPx: 0, heightPx: 8 } }, 'unsupported'],
  ])('%j is refused: %s', (settings, code) => {
    expect(() => checkSettings(settings, bounds)).toThrow(expect.objectContaining({ code }) as Error);
  });
  it('lets the bounds themselves and the whole sensor pass', () => {
    for (const exposureMs of [0.01, 10_000]) checkSettings({ exposureMs, gainDb: 10, region: wholeSensor(bounds.sensor) }, bounds);
  });
});

describe('automatics', () => {
  // The brief's list; the features' names from memory of the Standard Features Naming Convention.
  it.each(['ExposureAuto', 'GainAuto', 'BalanceWhiteAuto', 'GammaEnable', 'Gamma', 'LUTEnable', 'ColorTransformationEnable', 'SharpeningEnable', 'NoiseReduction'])('%s is among them, once', (name) => {
    expect(automatics.filter(({ feature }) => feature === name)).toHaveLength(1);
  });
  it('takes a rounded number for what was meant, and no other', () => {
    expect([isOff(1.0004, 1), isOff(1.01, 1), isOff('Off', 'Off'), isOff('Once', 'Off'), isOff(true, false)]).toEqual([true, false, true, false, false]);
  });
  it('goes to the lowest value where the bounds leave the neutral one out', () => {
    expect([offWithin(1, 0.25, 4), offWithin(0, 0.5, 4)]).toEqual([1, 0.5]);
  });
});

describe('what the library says', () => {
  const told = (problem: LibraryProblem, isAnswering: boolean) => asDriverError(new LibraryError(problem, 'call', 'text'), () => isAnswering).code;
  // shared/hardware.md: with a second program on the camera, reads work and writes time out.
  it('a timeout of a camera that still answers is another program; else it is gone', () => {
    expect([told('timeout', true), told('timeout', false), told('notConnected', true), told('notFound', false)]).toEqual(['cameraBusy', 'disconnected', 'disconnected', 'disconnected']);
  });
  it('a missing right to write is another program, and the rest a refusal', () => {
    expect([told('notController', false), told('other', true)]).toEqual(['cameraBusy', 'deviceError']);
  });
  it('survives the way from the worker', () => {
    expect(fromProblem(structuredClone(toProblem(new DriverError('badFrame', { reason: 'missing packets' }))))).toMatchObject({ code: 'badFrame', details: { reason: 'missing packets' } });
  });
});
