import { existsSync } from 'node:fs';
import { describe, expect, it, vi } from 'vitest';
import { parseFault } from '../../../daemon/rehearse/faultWish.ts';
import { rehearse, type Rehearsal } from '../../../daemon/rehearse/rehearse.ts';
import { inlinePool } from '../../support/inlinePool.ts';
import { instantClock } from '../../support/instantClock.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs });

/** Protects: a rehearsal plays the whole night on a twin, with the fault that was chosen, and says how it was left. Laws of our own. */

function play(fault?: string): Promise<Rehearsal> {
  const wish = fault === undefined ? {} : { fault: parseFault(fault) };
  return rehearse({ files: tinyFiles(fewTiles), clock: instantClock(startMs), pool: inlinePool(), signal: new AbortController().signal, renderIn: 'here', tell: () => undefined, ...wish });
}

describe('a rehearsal', () => {
  it('takes every tile of the plan in about the time that is forecast, says nothing of flakes, and leaves no data folder', async () => {
    const it = await play();
    expect(it).toMatchObject({ state: 'finished', cause: 'done', tiles: { done: it.tiles.planned, skipped: 0 }, lampIsOff: true, objectiveIsUp: true });
    expect(it.rehearsedS / it.forecastS).toBeGreaterThan(0.5);
    expect(it.rehearsedS / it.forecastS).toBeLessThan(2);
    expect(it.events.filter(({ kind }) => kind === 'flake')).toEqual([]);
    expect(existsSync('nightjar-data')).toBe(false);
  });

  it('shows a lamp that dies: black tiles, then parked, objective up', async () => {
    const it = await play('loseLamp@2');
    expect(it).toMatchObject({ state: 'parked', cause: 'black', lampIsOff: true, objectiveIsUp: true });
    expect(it.fault?.atS).toBeGreaterThan(0);
  });

  it('shows a move that never ends: tried again, and finished', async () => {
    const it = await play('hang:stage@3');
    expect(it.state).toBe('finished');
    expect(it.events.some(({ kind, text }) => kind === 'trouble' && text.includes('did not answer in time'))).toBe(true);
  });
});
