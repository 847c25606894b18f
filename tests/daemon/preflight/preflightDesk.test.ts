import { afterEach, describe, expect, test } from 'vitest';
import type { Instrument } from '../../../drivers/interfaces/index.ts';
import { benchFor } from '../../../daemon/preflight/bench.ts';
import { PreflightDesk } from '../../../daemon/preflight/preflightDesk.ts';
import { freshState, progressed, READINESS_HOLDS_MS, readinessAt, viewAt } from '../../../daemon/preflight/preflightState.ts';
import type { PreflightView } from '../../../daemon/server/messages.ts';
import { instantClock } from '../../support/instantClock.ts';
import { openRig, type Rig } from '../../support/rig.ts';
import { tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs } from '../../support/tinyNight.ts';

// Protects: a night begins once, and only on checks that came to their end, found nothing to mend and are not old; Stop halts before it waits.

const rigs: Rig[] = [];

afterEach(async () => {
  for (const rig of rigs.splice(0)) await rig.close();
});

const finding = (verdict: 'ok' | 'advice' | 'toMend') => ({ check: verdict, verdict, seen: 'seen' }) as const;
const ended = (...verdicts: Parameters<typeof finding>[0][]) => progressed(freshState(['clock']), { findings: verdicts.map(finding), done: 1, of: 1 }, startMs);

describe('readiness', () => {
  test('is blocked by what is to be mended, not by advice', () => {
    expect(readinessAt(ended('ok'), startMs)).toBe('ready');
    expect(readinessAt(ended('ok', 'advice'), startMs)).toBe('toBeLookedAt');
    expect(readinessAt(ended('advice', 'toMend'), startMs)).toBe('notReady');
  });

  test('ages, and says so', () => {
    expect(readinessAt(ended('ok'), startMs + READINESS_HOLDS_MS)).toBe('ready');
    expect(viewAt(ended('ok'), startMs + READINESS_HOLDS_MS + 1, { title: 'T', doneAtMs: 0 })).toMatchObject({ readiness: 'aged', sentence: expect.stringContaining('check again') });
  });

  test('puts what is found to the check that found it', () => {
    let state = progressed(freshState(['clock', 'disk']), { findings: [], now: { name: 'clock', needs: 'nothing' }, done: 0, of: 2 }, startMs);
    state = progressed(state, { findings: [finding('ok')], now: { name: 'disk', needs: 'nothing' }, done: 1, of: 2 }, startMs);
    expect(readinessAt(state, startMs)).toBeUndefined();
    expect(viewAt(state, startMs, { title: 'T', doneAtMs: 0 }).checks).toMatchObject([{ isDone: true, findings: [{ check: 'ok' }] }, { isNow: true, findings: [] }]);
  });

  test('does not call a check done that was passed over', () => {
    const state = progressed(freshState(['stage answers', 'focus']), { findings: [finding('toMend')], done: 2, of: 2, passedOver: [1] }, startMs);
    expect(viewAt(state, startMs, { title: 'T', doneAtMs: 0 }).checks.map(({ isDone }) => isDone)).toEqual([true, false]);
  });
});

function deskOn(rig: Rig, instrument: Instrument = rig.instrument): { readonly desk: PreflightDesk; readonly views: PreflightView[]; readonly begun: () => number } {
  const views: PreflightView[] = [];
  let begun = 0;
  const ground = { surroundings: { now: () => startMs, facts: async () => undefined }, directory: '/nights', freeBytes: async () => 1e12, tryWriting: async () => ({ bytes: 4e6, ms: 50 }), records: () => ({ problems: [], lampBefore: [] }) };
  // Its sleep never ends: here nothing ages.
  const clock = { ...instantClock(startMs), now: () => startMs, sleep: () => new Promise<void>(() => undefined) };
  const desk = new PreflightDesk({ title: 'T', clock, bench: (signal) => benchFor(tinyFiles(), instrument, ground, {}, signal), show: (view) => void views.push(view), begin: () => void begun++ });
  return { desk, views, begun: () => begun };
}

function rigFor(): Rig {
  const rig = openRig(tinyFiles().config, { startMs, realClock: instantClock(startMs) });
  rigs.push(rig);
  return rig;
}

describe('the desk', { timeout: slowMachineMs }, () => {
  test('refuses a start while it looks, and begins one night however often it is asked', async () => {
    const { desk, views, begun } = deskOn(rigFor());
    desk.begin();
    await expect(desk.startNight()).rejects.toMatchObject({ code: 'preflightUnderWay' });
    await expect.poll(() => views.at(-1)?.readiness, { timeout: slowMachineMs }).toBe('toBeLookedAt');
    await desk.startNight();
    await desk.startNight();
    expect(begun()).toBe(1);
  });

  test('stopped, it ends the checks, and no night begins on them', async () => {
    const rig = rigFor();
    const { desk, views, begun } = deskOn(rig);
    desk.begin();
    await expect.poll(() => rig.commands.length, { interval: 1 }).toBeGreaterThan(0);
    await desk.stop();
    expect(desk.isChecking).toBe(false);
    expect(views.at(-1)?.sentence).toMatch(/^Stopped/);
    await expect(desk.startNight()).rejects.toMatchObject({ code: 'nightNotReady' });
    expect(begun()).toBe(0);
  });

  test('stopped, it halts both axes before it waits for anything', async () => {
    const rig = rigFor();
    const { stage, focus } = rig.instrument;
    const happened: string[] = [];
    const halting = <Axis extends { stop(): Promise<void> }>(axis: Axis, name: string): Axis =>
      new Proxy(axis, { get: (target, key) => (key === 'stop' ? async () => (happened.push(name), target.stop()) : bound(target, key)) });
    const { desk, views } = deskOn(rig, { ...rig.instrument, stage: halting(stage, 'stage halted'), focus: halting(focus, 'focus halted') });
    desk.begin();
    await expect.poll(() => rig.commands.length, { interval: 1 }).toBeGreaterThan(0);
    const before = views.length;
    const stopping = desk.stop();
    expect([happened, views.length]).toEqual([['stage halted', 'focus halted'], before]);
    await stopping;
    expect(views.at(-1)?.sentence).toMatch(/^Stopped/);
  });

  test('stopped, it tells of an objective that cannot be lifted', async () => {
    const rig = rigFor();
    const { desk, views } = deskOn(rig);
    desk.begin();
    // Whatever moves the focus drive from now on fails, the lift among it.
    await expect.poll(() => rig.commands.some(({ device }) => device === 'focus'), { interval: 1 }).toBe(true);
    rig.faults.switchOn('unplug:focus');
    await desk.stop().catch(() => undefined);
    expect(views.at(-1)?.sentence).toMatch(/^Stopped.* Look at objective: it could not be lifted\./);
  });
});

/** A member of an object, a function with its `this`. */
function bound(target: object, key: string | symbol): unknown {
  const member: unknown = Reflect.get(target, key, target);
  return typeof member === 'function' ? member.bind(target) : member;
}
