import { afterEach, describe, expect, it, vi } from 'vitest';
import { hasCode } from '../../../daemon/errors/index.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import type { Command } from '../../support/moveLog.ts';
import type { Rig } from '../../support/rig.ts';
import { expectNothingForbidden, expectSafe } from '../../support/safety.ts';
import { fewTiles, tinyFiles, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: the way back to a flake ends at the flake, is safe all the way, and gives way to a Stop. Laws of our own. */

const nights = new TinyNights();
afterEach(() => nights.clear());

/** A stage repeats to 1 to 3 um, and a tile's place is known to about as much: so near must the reported place be to the flake's. */
const nearUm = 3;

function makeNight(change: TinyChange = () => undefined): TinyNight<Rig> {
  const files = tinyFiles((instrument, sheet) => {
    fewTiles(instrument, sheet);
    change(instrument, sheet);
  });
  return nights.makeOnRig({ files });
}

async function finished(change?: TinyChange): Promise<TinyNight<Rig>> {
  const night = makeNight(change);
  expect((await night.run()).phase).toBe('finished');
  return night;
}

function bestFlake(night: TinyNight): Flake {
  const [best] = night.observatory.board.flagged();
  if (!best) throw new Error('nothing was flagged');
  return best;
}

const codeOf = (work: Promise<unknown>): Promise<string> =>
  work.then(
    () => 'nothing',
    (error: unknown) => (error instanceof DriverError || hasCode(error, 'notWhileScanning') || hasCode(error, 'noSuchFlake') || hasCode(error, 'noRun') ? error.code : String(error)),
  );

/** Runs until the night is paused. */
async function paused(night: TinyNight): Promise<{ readonly ended: Promise<unknown> }> {
  const ended = night.run();
  await new Promise<void>((resolve) => {
    night.observatory.board.subscribe((message) => {
      if (message.type === 'tile') void night.observatory.pause();
      if (message.type === 'progress' && message.progress.state === 'paused') resolve();
    });
  });
  return { ended };
}

/** Resolves when the objective has been sent up to the safe height, or the night has parked. */
async function raisingOrParked({ opener, opened, observatory }: TinyNight<Rig>): Promise<void> {
  for (;;) {
    const last = opener.commands.at(-1);
    if (last?.device === 'focus' && last.toUm === opened.config.limits.safeHeightUm) return;
    if (observatory.board.snapshot().progress?.state === 'parked') return;
    await new Promise(setImmediate);
  }
}

const isSideways = (command: Command): command is Command & { device: 'stage' } => command.device === 'stage';

describe('the way back to a flake', () => {
  it('ends at the flake, in focus, with the light on and pictures coming; afterwards all is dark and up', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const { instrument } = night.opener;
    const pictures: string[] = [];
    night.observatory.board.subscribe((message) => {
      if (message.type === 'live' && message.flakeId !== undefined) pictures.push(message.flakeId);
    });
    await night.observatory.goToFlake(flake.id);
    expect(distanceUm(await instrument.stage.position(), flake.centreUm)).toBeLessThanOrEqual(nearUm);
    const tile = night.records.tile(night.opened.runId, flake.bestTile);
    expect(Math.abs((await instrument.focus.position()) - (tile?.zUm ?? 0))).toBeLessThan(0.1);
    expect(await instrument.lamp.intensity()).toBe(night.opened.config.opticalPaths.survey?.lampIntensity);
    expect(pictures).toContain(flake.id);
    const live = night.observatory.live();
    expect(live?.type).toBe('image/png');
    // The first eight bytes of every PNG (ISO/IEC 15948, 5.2).
    expect([...(live?.bytes.subarray(0, 8) ?? [])]).toEqual([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);
    await night.observatory.endLive();
    await expectSafe(night);
  });

  it('goes with the objective up where the way is long, from afar and from one flake to the next', async () => {
    const night = nights.makeOnRig({ files: tinyFiles((instrument) => (instrument.limits.maxLowTravelUm = 400)) });
    await night.run();
    const [first, ...others] = night.observatory.board.flagged();
    const far = others.find((other) => first && distanceUm(first.centreUm, other.centreUm) > 400);
    if (!first || !far) throw new Error('the tray has no two flakes so far apart');
    await night.opener.instrument.stage.moveTo({ xUm: 60_000, yUm: 40_000 });
    const before = night.opener.commands.length;
    await night.observatory.goToFlake(first.id);
    await night.observatory.goToFlake(far.id);
    const onTheWay = night.opener.commands.slice(before).filter(isSideways);
    const { safeHeightUm } = night.opened.config.limits;
    expect(onTheWay.filter(({ from, to }) => distanceUm(from, to) > 400).map(({ zUm }) => zUm >= safeHeightUm)).toEqual([true, true]);
    expect(onTheWay.some(({ zUm }) => zUm < safeHeightUm)).toBe(false);
    expect(distanceUm(await night.opener.instrument.stage.position(), far.centreUm)).toBeLessThanOrEqual(nearUm);
    await night.observatory.endLive();
    await expectSafe(night);
  });

  it('is refused while the night is scanning, for a flake that is not there, and before any night', async () => {
    const night = makeNight();
    expect(await codeOf(night.observatory.goToFlake('T-01-1'))).toBe('noRun');
    const codes: Promise<string>[] = [];
    const leave = night.observatory.board.subscribe((message) => {
      if (message.type !== 'tile') return;
      leave();
      codes.push(codeOf(night.observatory.goToFlake('T-01-1')));
    });
    await night.run();
    expect(await Promise.all(codes)).toEqual(['notWhileScanning']);
    expect(await codeOf(night.observatory.goToFlake('T-01-999'))).toBe('noSuchFlake');
    expectNothingForbidden(night);
  });

  it('is open while the night is paused; going on ends the picture and takes the light back', async () => {
    const night = makeNight();
    const { ended } = await paused(night);
    const flake = [...night.observatory.board.snapshot().flakes][0]?.flake;
    if (!flake) throw new Error('no flake yet');
    await night.observatory.goToFlake(flake.id);
    expect(distanceUm(await night.opener.instrument.stage.position(), flake.centreUm)).toBeLessThanOrEqual(nearUm);
    let isGoing = true;
    night.observatory.board.subscribe((message) => {
      if (message.type === 'live' && !isGoing) throw new Error('a live picture of a night that has gone on');
      if (message.type === 'tile') isGoing = false;
    });
    const asked = night.observatory.goOn();
    expect(await codeOf(night.observatory.goToFlake(flake.id))).toBe('notWhileScanning');
    await asked;
    night.observatory.board.subscribe((message) => {
      if (message.type === 'progress' && message.progress.state === 'paused') void night.observatory.goOn();
    });
    expect(await ended).toMatchObject({ phase: 'finished' });
    const tiles = night.records.tiles(night.opened.runId);
    expect(tiles.map(({ outcome, reason }) => [outcome, reason])).toEqual(Array(night.opened.plan.tileCount).fill(['done', undefined]));
    await expectSafe(night);
  });

  it('is taken back from although the lamp does not answer at first; when it stays silent the night stays paused, and may be asked again', async () => {
    const night = makeNight();
    const { ended } = await paused(night);
    const troubles = () => night.records.events(night.opened.runId).filter(({ kind }) => kind === 'trouble').length;
    night.opener.faults.loseReply('lamp', 3);
    expect(await codeOf(night.observatory.goOn())).toBe('timeout');
    expect([night.observatory.board.snapshot().progress?.state, troubles()]).toEqual(['paused', 3]);
    night.opener.faults.loseReply('lamp');
    night.observatory.board.subscribe((message) => {
      if (message.type === 'progress' && message.progress.state === 'paused') void night.observatory.goOn();
    });
    await night.observatory.goOn();
    expect(troubles()).toBe(4);
    expect(await ended).toMatchObject({ phase: 'finished' });
    await expectSafe(night);
  });
});

describe('Stop', () => {
  it('halts the way to a flake wherever it is, and makes all safe', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    const { instrument } = night.opener;
    // The way has several steps: a Stop must hold at each of them, also between two motions.
    for (let turns = 0; turns < 12; turns++) {
      await instrument.stage.moveTo({ xUm: 60_000, yUm: 40_000 });
      const going = codeOf(night.observatory.goToFlake(flake.id));
      for (let turn = 0; turn < turns; turn++) await new Promise(setImmediate);
      const sent = night.opener.commands.filter(isSideways).length;
      await night.observatory.stop();
      expect(await going).toBe('stopped');
      expect(night.opener.commands.filter(isSideways).length).toBe(sent);
      await expectSafe(night);
    }
  });

  it('ends a live picture, drops what waits for its turn, and makes all safe', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    await night.observatory.goToFlake(flake.id);
    const waiting = [codeOf(night.observatory.goToFlake(flake.id)), codeOf(night.observatory.goToFlake(flake.id))];
    await night.observatory.stop();
    expect(await Promise.all(waiting)).toEqual(['stopped', 'stopped']);
    await expectSafe(night);
  });

  it('parks a paused night that shows a live picture, with nothing left unsafe', async () => {
    const night = makeNight();
    const { ended } = await paused(night);
    const flake = [...night.observatory.board.snapshot().flakes][0]?.flake;
    await night.observatory.goToFlake(flake?.id ?? '');
    await night.observatory.stop();
    expect(await ended).toMatchObject({ phase: 'parked', cause: 'stopAsked' });
    expect(night.observatory.board.snapshot().events.filter(({ kind }) => kind === 'trouble')).toEqual([]);
    await expectSafe(night);
  });

  it('parks for its own reason whatever it interrupts, and a second one does not leave the objective down', async () => {
    for (const moment of ['Making ready', 'Finding focus', 'Scanning']) {
      const night = makeNight();
      const stops: Promise<void>[] = [];
      const leave = night.observatory.board.subscribe((message) => {
        if (message.type !== 'progress' || !message.progress.sentence.startsWith(moment)) return;
        leave();
        stops.push(night.observatory.stop());
      });
      const running = night.run();
      if (moment === 'Making ready') stops.push(night.observatory.stop());
      await raisingOrParked(night);
      stops.push(night.observatory.stop());
      expect(await running).toMatchObject({ phase: 'parked', cause: 'stopAsked' });
      await Promise.all(stops);
      expect(night.records.events(night.opened.runId).filter(({ kind }) => kind === 'trouble')).toEqual([]);
      await expectSafe(night);
    }
  });
});

describe('a live picture that fails', () => {
  it('says so and makes safe what it can', async () => {
    const night = await finished();
    await night.observatory.goToFlake(bestFlake(night).id);
    const told = new Promise<string>((resolve) => {
      night.observatory.board.subscribe((message) => {
        if (message.type === 'event' && message.event.kind === 'trouble') resolve(message.event.text);
      });
    });
    night.opener.faults.unplug('camera');
    expect(await told).toContain('no longer connected');
    night.opener.faults.plugIn('camera');
    await night.observatory.endLive();
    await expectSafe(night);
  });

  it('does not take the daemon with it when the lamp cannot be switched off', async () => {
    const night = await finished();
    const flake = bestFlake(night);
    await night.observatory.goToFlake(flake.id);
    night.opener.faults.unplug('lamp');
    await night.observatory.endLive();
    expect(night.observatory.board.snapshot().events.at(-1)).toMatchObject({ kind: 'trouble', text: expect.stringContaining('device lamp') });
    expect(await night.opener.instrument.focus.position()).toBeGreaterThanOrEqual(night.opened.config.limits.safeHeightUm);
    night.opener.faults.plugIn('lamp');
    await night.observatory.endLive();
    await expectSafe(night);
  });
});
