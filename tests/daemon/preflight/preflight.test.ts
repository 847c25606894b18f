import { afterEach, describe, expect, test } from 'vitest';
import { benchFor } from '../../../daemon/preflight/bench.ts';
import type { Ground, Told } from '../../../daemon/preflight/check.ts';
import { steadiness } from '../../../daemon/preflight/lamp.ts';
import { preflight, readinessOf } from '../../../daemon/preflight/preflight.ts';
import { toldBy } from '../../../daemon/preflight/told.ts';
import type { Finding } from '../../../daemon/doctor/finding.ts';
import { instantClock } from '../../support/instantClock.ts';
import { openRig, type Rig } from '../../support/rig.ts';
import { tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs } from '../../support/tinyNight.ts';

// Protects: what would spoil a night is named before anyone leaves, nothing moves where a device is not well, and the objective is up afterwards.

const rigs: Rig[] = [];

afterEach(async () => {
  for (const rig of rigs.splice(0)) await rig.close();
});

const soundGround: Ground = {
  surroundings: { now: () => startMs, facts: async (path) => (path === '/run/systemd/timesync/synchronized' ? { kind: 'other', uid: 0, gid: 0, mode: 0o644 } : undefined) },
  directory: '/nights',
  freeBytes: async () => 1e12,
  tryWriting: async () => ({ bytes: 4e6, ms: 50 }),
  records: () => ({ problems: [], lampBefore: [] }),
};

async function checked(spoil: (rig: Rig) => void = () => undefined, ground: Partial<Ground> = {}, told: Told = {}): Promise<{ readonly findings: readonly Finding[]; readonly rig: Rig }> {
  const files = tinyFiles();
  const rig = openRig(files.config, { startMs, realClock: instantClock(startMs) });
  rigs.push(rig);
  spoil(rig);
  const bench = benchFor(files, rig.instrument, { ...soundGround, ...ground }, told, new AbortController().signal);
  return { findings: await preflight(bench, () => undefined), rig };
}

const toMend = (findings: readonly Finding[]): readonly string[] => findings.filter(({ verdict }) => verdict === 'toMend').map(({ check }) => check);

describe('a preflight', { timeout: slowMachineMs }, () => {
  test('of a sound instrument has nothing to mend, and ends with the objective up and the lamp on', async () => {
    const { findings, rig } = await checked();
    expect(toMend(findings)).toEqual([]);
    expect(findings.map(({ check }) => check)).toEqual(expect.arrayContaining(['focus on T-01', 'exposure on T-01', 'lamp steady', 'camera linear', 'dark frame']));
    expect(await rig.instrument.focus.position()).toBeGreaterThanOrEqual(tinyFiles().config.limits.safeHeightUm);
    expect(await rig.instrument.lamp.intensity()).toBeGreaterThan(0);
  });

  test('names a stage that is unplugged and moves nothing', async () => {
    const { findings, rig } = await checked(({ faults }) => faults.unplug('stage'));
    expect(toMend(findings)).toContain('stage answers');
    expect(readinessOf(findings)).toBe('notReady');
    expect(rig.commands).toEqual([]);
  });

  test('names a dead lamp, and looks at everything else all the same', async () => {
    const { findings } = await checked(({ faults }) => faults.loseLamp());
    expect(toMend(findings)).toContain('focus on T-01');
    expect(findings.map(({ check }) => check)).toEqual(expect.arrayContaining(['camera linear', 'lamp steady', 'disk space']));
  });

  test('names a lamp that fades', async () => {
    const { findings } = await checked(({ faults }) => faults.fadeLamp(3_600_000));
    expect(toMend(findings)).toContain('lamp steady');
  });

  test('names frames that are full', async () => {
    const { findings } = await checked(({ faults }) => faults.saturate(1e6));
    expect(readinessOf(findings)).toBe('notReady');
  });

  test.each<[string, Partial<Ground>, Told]>([
    ['disk space', { freeBytes: async () => 1000 }, {}],
    ['disk speed', { tryWriting: async () => ({ bytes: 4e6, ms: 4e7 }) }, {}],
    ['records', { records: () => ({ problems: [], unfinished: 'Tuesday', lampBefore: [] }) }, {}],
    ['records', { records: () => ({ problems: ['page 3 is gone'], lampBefore: [] }) }, {}],
    ['clock', { surroundings: { now: () => 0, facts: async () => undefined } }, {}],
    ['forecast end', {}, { endBeforeMs: startMs + 1000 }],
  ])('names %s', async (check, ground, told) => {
    const { findings } = await checked(({ faults }) => faults.unplug('turret'), ground, told);
    expect(toMend(findings)).toContain(check);
  });

  test('says when the last nights burnt the halogen lamp otherwise', async () => {
    const { findings } = await checked(({ faults }) => faults.unplug('turret'), { records: () => ({ problems: [], lampBefore: [{ path: 'survey', intensity: 0.31 }] }) });
    expect(findings.find(({ check }) => check === 'lamp brightness')?.verdict).toBe('advice');
  });
});

describe('words and numbers', () => {
  test('a line has drift and no ripple, a zigzag ripple and no drift', () => {
    expect(steadiness([1, 1.01, 1.02]).drift).toBeCloseTo(0.02 / 1.01, 6);
    expect(steadiness([1, 1.01, 1.02]).ripple).toBeCloseTo(0, 9);
    expect(steadiness([1, 1.1, 1, 1.1, 1]).drift).toBeCloseTo(0, 9);
    expect(steadiness([1, 1.1, 1, 1.1, 1]).ripple).toBeGreaterThan(0.04);
  });

  test('times of day lie before and after now', () => {
    const now = new Date(2026, 0, 17, 20, 30).getTime();
    expect(toldBy({ lampOnSince: '19:40', endBefore: '08:00' }, now)).toEqual({ lampOnSinceMs: new Date(2026, 0, 17, 19, 40).getTime(), endBeforeMs: new Date(2026, 0, 18, 8, 0).getTime() });
    expect(toldBy({ lampOnSince: '23:50' }, now).lampOnSinceMs).toBe(new Date(2026, 0, 16, 23, 50).getTime());
    expect(() => toldBy({ lampOnSince: 'evening' }, now)).toThrow(expect.objectContaining({ code: 'badUsage' }));
  });
});
