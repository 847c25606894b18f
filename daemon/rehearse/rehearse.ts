import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { FramePool } from '../classify/pool.ts';
import { openTwin, type OpenTwin } from '../instrument/open.ts';
import { openRecords } from '../records/open.ts';
import type { EventRecord, RecordsStore, RunState, TransitionRecord } from '../records/types.ts';
import { Observatory } from '../run/observatory.ts';
import { beginNight, type NightFiles, type OpenedNight } from '../run/openNight.ts';
import { planNight } from '../run/planNight.ts';
import type { FaultWish } from './faultWish.ts';
import { lightPool } from './lightPool.ts';
import { inventedChip, twinOf } from './twin.ts';

export interface RehearsalParts {
  readonly files: NightFiles;
  readonly fault?: FaultWish;
  readonly clock: Clock;
  readonly pool: FramePool;
  readonly signal: AbortSignal;
  readonly renderIn?: 'worker' | 'here';
  /** Told how many tiles are over, of how many. */
  readonly tell: (done: number, of: number) => void;
}

/** What came of a rehearsal. */
export interface Rehearsal {
  /** Without close-ups: which flakes there will be is not rehearsed. */
  readonly forecastS: number;
  /** What the sheet gives to close-ups; it comes on top. */
  readonly closeUpsS: number;
  readonly rehearsedS: number;
  readonly diskBytes: number;
  readonly state: RunState;
  readonly cause: string;
  readonly tiles: { readonly planned: number; readonly done: number; readonly skipped: number };
  readonly chips: readonly { readonly name: string; readonly tiles: number; readonly focusPoints: number }[];
  readonly fault?: { readonly name: string; readonly sentence: string; readonly afterTile: number; readonly atS: number | null };
  readonly events: readonly (EventRecord & { readonly atS: number })[];
  readonly transitions: readonly (TransitionRecord & { readonly atS: number })[];
  readonly lampIsOff: boolean | null;
  readonly objectiveIsUp: boolean | null;
}

/**
 * Runs the very run sheet on a simulated twin of the instrument, in virtual time. Motion, focus, faults and records are rehearsed; the
 * flakes are invented, so that nothing is said of them. Records go to a temporary folder that is removed. Rejects with `planRefused`.
 */
export async function rehearse(parts: RehearsalParts): Promise<Rehearsal> {
  const { files, clock } = parts;
  const plan = planNight(files.sheet, files.config);
  const config = twinOf(files.config);
  const folder = await mkdtemp(join(tmpdir(), 'nightjar-rehearsal-'));
  const chips = plan.chips.map((chip) => inventedChip(chip, files.sheet.chips.find(({ name }) => name === chip.name), config.focus.expectedUm));
  const twin = openTwin(config, chips, { realClock: clock, renderIn: parts.renderIn ?? 'worker' });
  const records = openRecords(folder);
  try {
    const begun = beginNight(records, { ...files, config, sheet: { ...files.sheet, keep: { ...files.sheet.keep, rawFrames: false } } }, twin.instrument.clock.now());
    return await onTwin(parts, twin, records, { ...begun, plan });
  } finally {
    await twin.close();
    records.close();
    await rm(folder, { recursive: true, force: true });
  }
}

async function onTwin(parts: RehearsalParts, twin: OpenTwin, records: RecordsStore, opened: OpenedNight): Promise<Rehearsal> {
  const { plan, config } = opened;
  const { instrument } = twin;
  const startMs = instrument.clock.now();
  // A torn frame is only found by whoever reads it whole.
  const pool = parts.fault?.name === 'tearFrame' ? parts.pool : lightPool(parts.pool);
  const observatory = new Observatory({ records, instrument: twin, config, pool, log: pino({ enabled: false }), waitingClock: instrument.clock, freeBytes: async () => Number.MAX_SAFE_INTEGER });
  const struck = strikeWhenDue(parts, twin, observatory, plan.tileCount);
  const stop = (): void => void observatory.stop().catch(() => undefined);
  parts.signal.addEventListener('abort', stop, { once: true });
  try {
    const machine = await observatory.runNight(opened);
    const since = <R extends { readonly atMs: number }>(record: R): R & { readonly atS: number } => ({ ...record, atS: (record.atMs - startMs) / 1000 });
    const rehearsedS = (instrument.clock.now() - startMs) / 1000;
    const tiles = records.tiles(opened.runId);
    const done = tiles.filter(({ outcome }) => outcome === 'done').length;
    return {
      forecastS: plan.forecastS,
      closeUpsS: plan.closeUps?.budgetS ?? 0,
      rehearsedS,
      diskBytes: plan.diskBytes,
      state: machine.phase,
      cause: machine.cause,
      tiles: { planned: plan.tileCount, done, skipped: tiles.length - done },
      chips: plan.chips.map(({ name, tiles: planned, focusPointsUm }) => ({ name, tiles: planned.length, focusPoints: focusPointsUm.length })),
      ...(parts.fault ? { fault: { name: parts.fault.name, sentence: parts.fault.sentence, afterTile: struck.afterTile, atS: struck.atMs() === undefined ? null : ((struck.atMs() ?? 0) - startMs) / 1000 } } : {}),
      events: records.events(opened.runId).map(since),
      transitions: records.transitions(opened.runId).map(since),
      ...(await endOf(twin, config.limits.safeHeightUm)),
    };
  } finally {
    parts.signal.removeEventListener('abort', stop);
    struck.leave();
  }
}

/** Lets the fault happen when so many tiles are over. */
function strikeWhenDue({ fault, tell }: RehearsalParts, twin: OpenTwin, observatory: Observatory, tiles: number): { readonly afterTile: number; atMs(): number | undefined; leave(): void } {
  const afterTile = fault?.atTile(tiles) ?? 0;
  let atMs: number | undefined;
  const leave = observatory.board.subscribe((message) => {
    if (message.type !== 'progress') return;
    const over = message.progress.tilesDone + message.progress.tilesSkipped;
    tell(over, tiles);
    if (!fault || atMs !== undefined || over < afterTile) return;
    atMs = twin.instrument.clock.now();
    fault.strike(twin);
  });
  return { afterTile, atMs: () => atMs, leave };
}

/** How the twin was left; null where a device does not say. */
async function endOf({ instrument }: OpenTwin, safeHeightUm: number): Promise<Pick<Rehearsal, 'lampIsOff' | 'objectiveIsUp'>> {
  const [intensity, zUm] = await Promise.allSettled([instrument.lamp.intensity(), instrument.focus.position()]);
  return {
    lampIsOff: intensity.status === 'fulfilled' ? intensity.value === 0 : null,
    objectiveIsUp: zUm.status === 'fulfilled' ? zUm.value >= safeHeightUm - 1 : null,
  };
}
