import { expect } from 'vitest';
import { forbidden } from './moveLog.ts';
import type { Rig } from './rig.ts';
import type { TinyNight } from './tinyNight.ts';

/** Objective up, lamp off, and no command that the limits forbid has ever reached a device. */
export async function expectSafe({ opener, opened }: TinyNight<Rig>): Promise<void> {
  const { limits } = opened.config;
  expect(await opener.instrument.focus.position()).toBeGreaterThanOrEqual(limits.safeHeightUm);
  expect(await opener.instrument.lamp.intensity()).toBe(0);
  expectNothingForbidden({ opener, opened });
}

/** The log must not be empty: a gate that lets nothing through forbids nothing. */
export function expectNothingForbidden({ opener, opened }: Pick<TinyNight<Rig>, 'opener' | 'opened'>): void {
  expect(opener.commands.length).toBeGreaterThan(0);
  expect(forbidden(opener.commands, opened.config.limits)).toEqual([]);
}
