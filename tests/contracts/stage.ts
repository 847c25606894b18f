import { describe, expect, it } from 'vitest';
import type { Clock, Stage } from '../../drivers/interfaces/index.ts';
import { distanceUm, type StagePoint } from '../../planner/units/index.ts';

export interface OpenedStage {
  readonly stage: Stage;
  readonly clock: Clock;
  /** Length of a motor step, where that is coarser than 1 um. */
  readonly stepUm?: number;
}

/** A stage has arrived when it is within 1 um, or on the motor step nearest to the target. */
const nearUm = ({ stepUm = 0 }: OpenedStage) => Math.max(1, stepUm);

/** A place in the travel, by shares of its width and height. */
function placeIn({ travel }: Stage, across: number, up: number): StagePoint {
  return { xUm: travel.xMinUm + across * (travel.xMaxUm - travel.xMinUm), yUm: travel.yMinUm + up * (travel.yMaxUm - travel.yMinUm) };
}

function movesWhereTold(open: () => Promise<OpenedStage>): void {
  it('arrives where it is told, says so, and stands idle', async () => {
    const opened = await open();
    const { stage } = opened;
    for (const [across, up] of [[0.2, 0.3], [0.7, 0.3], [0.7, 0.9], [0.21, 0.31]] as const) {
      const target = placeIn(stage, across, up);
      expect(distanceUm(await stage.moveTo(target), target)).toBeLessThanOrEqual(nearUm(opened));
      expect(distanceUm(await stage.position(), target)).toBeLessThanOrEqual(nearUm(opened));
      expect(await stage.state()).toBe('idle');
    }
  });

  it('refuses a target outside its travel and stays where it is', async () => {
    const { stage } = await open();
    const before = await stage.moveTo(placeIn(stage, 0.5, 0.5));
    const { xMinUm, xMaxUm, yMinUm, yMaxUm } = stage.travel;
    for (const target of [{ xUm: xMaxUm + 1, yUm: before.yUm }, { xUm: xMinUm - 1, yUm: before.yUm }, { xUm: before.xUm, yUm: yMaxUm + 1 }, { xUm: before.xUm, yUm: yMinUm - 1 }]) {
      await expect(stage.moveTo(target)).rejects.toMatchObject({ code: 'limit' });
    }
    expect(distanceUm(await stage.position(), before)).toBeLessThanOrEqual(1);
  });

  it('moves no faster than asked', async () => {
    const { stage, clock } = await open();
    const from = await stage.moveTo(placeIn(stage, 0.5, 0.5));
    const startMs = clock.now();
    await stage.moveTo({ xUm: from.xUm + 400, yUm: from.yUm }, { speedUmPerS: 1000 });
    expect(clock.now() - startMs).toBeGreaterThanOrEqual(400);
  });
}

function stopsAndRecovers(open: () => Promise<OpenedStage>): void {
  it('is moving while under way, and ends with `stopped` when stopped', async () => {
    const { stage, clock } = await open();
    const from = await stage.moveTo(placeIn(stage, 0.2, 0.2));
    const target = placeIn(stage, 0.8, 0.2);
    const moving = expect(stage.moveTo(target, { speedUmPerS: 5000 })).rejects.toMatchObject({ code: 'stopped' });
    await clock.sleep(200);
    expect(await stage.state()).toBe('moving');
    await stage.stop();
    await moving;
    expect(await stage.state()).toBe('idle');
    const stoppedAt = await stage.position();
    expect(stoppedAt.xUm).toBeGreaterThan(from.xUm);
    expect(stoppedAt.xUm).toBeLessThan(target.xUm);
    await stage.moveTo(target);
  });

  it('stops when the signal is aborted, before and under way', async () => {
    const { stage, clock } = await open();
    const stop = new AbortController();
    const moving = expect(stage.moveTo(placeIn(stage, 0.9, 0.9), { signal: stop.signal })).rejects.toMatchObject({ code: 'stopped' });
    await clock.sleep(20);
    stop.abort();
    await moving;
    await expect(stage.moveTo(placeIn(stage, 0.5, 0.5), { signal: AbortSignal.abort() })).rejects.toMatchObject({ code: 'stopped' });
  });

  it('homes and then knows where it is', async () => {
    const opened = await open();
    const { stage } = opened;
    await stage.home();
    expect(await stage.state()).toBe('idle');
    const target = placeIn(stage, 0.4, 0.6);
    expect(distanceUm(await stage.moveTo(target), target)).toBeLessThanOrEqual(nearUm(opened));
  });

  it('refuses everything once closed', async () => {
    const { stage } = await open();
    const target = placeIn(stage, 0.4, 0.6);
    await stage.close();
    expect(await stage.state()).toBe('closed');
    await expect(stage.moveTo(target)).rejects.toMatchObject({ code: 'closed' });
    await expect(stage.position()).rejects.toMatchObject({ code: 'closed' });
  });
}

/** What every stage must hold. `open` gives a fresh one, homed, and free to move. */
export function stageContract(name: string, open: () => Promise<OpenedStage>): void {
  describe(`stage contract: ${name}`, () => {
    movesWhereTold(open);
    stopsAndRecovers(open);
  });
}
