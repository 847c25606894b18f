import fc from 'fast-check';
import { readFileSync } from 'node:fs';
import { describe, expect, it, vi } from 'vitest';
import { slowMachineMs } from '../support/tinyNight.ts';
import { faultScriptOf, type FaultScript } from './faultScript.ts';
import { drawingOf, problemsOf } from './invariants.ts';
import { NightPlayer } from './playNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a seed that failed can be played again and fails in the same way. The records of two nights are compared whole, times and events included. */

const drawing = drawingOf(readFileSync('DEVELOPERS.md', 'utf8'));

describe('the script of a seed', () => {
  it('is the same each time, begins within the night, and holds no more than was said', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 1e9 }), fc.integer({ min: 5, max: 500 }), (seed, lengthS) => {
        const { strikes } = faultScriptOf(seed, lengthS);
        expect(faultScriptOf(seed, lengthS).strikes).toEqual(strikes);
        expect(strikes.every(({ atS }) => atS >= 0 && atS <= lengthS)).toBe(true);
        const faults = strikes.filter(({ kind }) => !['pause', 'stop', 'kill', 'powerCut'].includes(kind));
        expect(faults.length).toBeLessThanOrEqual(4);
      }),
      { numRuns: 300 },
    );
  });

  it('draws every kind sooner or later', () => {
    const kinds = new Set(Array.from({ length: 1000 }, (_, seed) => faultScriptOf(seed, 60).strikes.map(({ kind }) => kind.split(':')[0])).flat());
    expect(kinds.size).toBe(30);
  });
});

describe('a night with faults', () => {
  const script: FaultScript = {
    seed: 0,
    strikes: [
      { kind: 'dropFrame', atS: 7, times: 2 },
      { kind: 'kill', atS: 12 },
      { kind: 'stallX', atS: 14, times: 1 },
      { kind: 'hang:stage', atS: 20, times: 1 },
    ],
  };

  it('is the same night each time, and another one with other faults', async () => {
    const player = new NightPlayer();
    const [first, again] = [await player.play(0, script), await player.play(0, script)];
    expect(problemsOf(first, drawing)).toEqual([]);
    expect(first.attempts.map(({ end }) => end)).toEqual(['died', 'finished']);
    expect(first.attempts.flatMap(({ struck }) => Object.keys(struck))).toEqual(expect.arrayContaining(['dropFrame', 'kill', 'stallX', 'hang:stage']));
    expect(again).toEqual(first);
    const other = await player.play(0, { seed: 0, strikes: script.strikes.slice(0, 1) });
    expect(other.fingerprint).not.toBe(first.fingerprint);
  });
});
