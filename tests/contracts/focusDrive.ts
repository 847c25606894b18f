import { describe, expect, it } from 'vitest';
import type { Clock, FocusDrive } from '../../drivers/interfaces/index.ts';

export interface OpenedFocus {
  readonly focus: FocusDrive;
  readonly clock: Clock;
  /** Length of a motor step, where that is coarser than 0.1 um. */
  readonly stepUm?: number;
}

const heightIn = ({ zMinUm, zMaxUm }: FocusDrive, share: number) => zMinUm + share * (zMaxUm - zMinUm);

function movesWhereTold(open: () => Promise<OpenedFocus>): void {
  it('arrives where it is told and says so', async () => {
    const { focus, stepUm = 0 } = await open();
    for (const share of [0.9, 0.2, 0.2001, 0.5]) {
      const zUm = heightIn(focus, share);
      expect(Math.abs((await focus.moveTo(zUm)) - zUm)).toBeLessThanOrEqual(Math.max(0.1, stepUm));
      expect(Math.abs((await focus.position()) - zUm)).toBeLessThanOrEqual(Math.max(0.1, stepUm));
    }
  });

  it('refuses heights outside its range and stays where it is', async () => {
    const { focus } = await open();
    const before = await focus.position();
    await expect(focus.moveTo(focus.zMinUm - 0.5)).rejects.toMatchObject({ code: 'limit' });
    await expect(focus.moveTo(focus.zMaxUm + 0.5)).rejects.toMatchObject({ code: 'limit' });
    expect(await focus.position()).toBe(before);
  });

  it('moves no faster than asked', async () => {
    const { focus, clock } = await open();
    const from = await focus.moveTo(heightIn(focus, 0.6));
    const startMs = clock.now();
    await focus.moveTo(from - 50, { speedUmPerS: 100 });
    expect(clock.now() - startMs).toBeGreaterThanOrEqual(500);
  });
}

function stops(open: () => Promise<OpenedFocus>): void {
  it('ends with `stopped` when stopped and when aborted', async () => {
    const { focus, clock } = await open();
    await focus.moveTo(heightIn(focus, 0.9));
    const stopped = expect(focus.moveTo(heightIn(focus, 0.1))).rejects.toMatchObject({ code: 'stopped' });
    await clock.sleep(50);
    await focus.stop();
    await stopped;
    const zUm = await focus.position();
    expect(zUm).toBeGreaterThan(heightIn(focus, 0.1));
    const stop = new AbortController();
    const aborted = expect(focus.moveTo(heightIn(focus, 0.1), { signal: stop.signal })).rejects.toMatchObject({ code: 'stopped' });
    await clock.sleep(50);
    stop.abort();
    await aborted;
  });

  it('refuses everything once closed', async () => {
    const { focus } = await open();
    await focus.close();
    await expect(focus.moveTo(heightIn(focus, 0.5))).rejects.toMatchObject({ code: 'closed' });
    await expect(focus.position()).rejects.toMatchObject({ code: 'closed' });
  });
}

/** What every focus drive must hold. `open` gives a fresh one, free to move. */
export function focusDriveContract(name: string, open: () => Promise<OpenedFocus>): void {
  describe(`focus drive contract: ${name}`, () => {
    movesWhereTold(open);
    stops(open);
  });
}
