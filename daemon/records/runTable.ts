import { z } from 'zod';
import { NightjarError } from '../errors/index.ts';
import { reader, writer } from './context.ts';
import type { RecordsContext } from './context.ts';
import { toJson } from './json.ts';
import { isRunId } from './layout.ts';
import { calibrationColumn, flatColumn, focusPointsColumn, ladderColumn, numbersColumn, planColumn } from './shapes.ts';
import type { ChipRecord, EventRecord, RunRecord, RunState, TransitionRecord } from './types.ts';

const state = z.enum(['preflight', 'scanning', 'waiting', 'paused', 'recovering', 'parked', 'finished', 'failed']) satisfies z.ZodType<RunState>;

export const runRow = z
  .object({ id: z.string(), title: z.string(), created_at_ms: z.number(), run_sheet: z.string(), instrument: z.string(), plan: planColumn, state })
  .transform((row): RunRecord => ({
    id: row.id,
    title: row.title,
    createdAtMs: row.created_at_ms,
    runSheetText: row.run_sheet,
    instrumentText: row.instrument,
    plan: row.plan,
    state: row.state,
  }));

export const transitionRow = z
  .object({ at_ms: z.number(), state, cause: z.string() })
  .transform((row): TransitionRecord => ({ atMs: row.at_ms, state: row.state, cause: row.cause }));

export const chipRow = z
  .object({ chip: z.string(), optical_path: z.string(), focus_points: focusPointsColumn, dark: numbersColumn, ladder: ladderColumn, flat: flatColumn.nullable(), calibration: calibrationColumn.nullable() })
  .transform((row): ChipRecord => ({
    chip: row.chip,
    opticalPath: row.optical_path,
    focusPoints: row.focus_points,
    dark: row.dark,
    ladder: row.ladder,
    ...(row.flat ? { flat: row.flat } : {}),
    ...(row.calibration ? { calibration: row.calibration } : {}),
  }));

export const eventRow = z
  .object({ at_ms: z.number(), kind: z.string(), text: z.string() })
  .transform((row): EventRecord => ({ atMs: row.at_ms, kind: row.kind, text: row.text }));

/** Runs with their state, and what belongs to a run as a whole: chips and events. */
export function runTable(context: RecordsContext) {
  const insertRun = writer(context, `INSERT INTO run (id, title, created_at_ms, run_sheet, instrument, plan, state)
    VALUES (@id, @title, @createdAtMs, @runSheetText, @instrumentText, @plan, @state)`);
  const updateState = writer(context, 'UPDATE run SET state = @state WHERE id = @runId');
  const insertTransition = writer(context, 'INSERT INTO transition (run_id, at_ms, state, cause) VALUES (@runId, @atMs, @state, @cause)');
  const upsertChip = writer(context, `INSERT INTO chip (run_id, chip, optical_path, focus_points, dark, ladder, flat, calibration)
    VALUES (@runId, @chip, @opticalPath, @focusPoints, @dark, @ladder, @flat, @calibration)
    ON CONFLICT (run_id, chip) DO UPDATE SET optical_path = excluded.optical_path, focus_points = excluded.focus_points, dark = excluded.dark,
      ladder = excluded.ladder, flat = excluded.flat, calibration = excluded.calibration`);
  const insertEvent = writer(context, 'INSERT INTO event (run_id, at_ms, kind, text) VALUES (@runId, @atMs, @kind, @text)');
  const byId = reader(context, 'run', runRow, 'SELECT * FROM run WHERE id = ?');
  const latest = reader(context, 'run', runRow, 'SELECT * FROM run ORDER BY seq DESC LIMIT 1');
  const ids = context.db.prepare('SELECT id FROM run ORDER BY seq').pluck();
  const has = context.db.prepare('SELECT 1 FROM run WHERE id = ?').pluck();

  function known(runId: string): void {
    if (has.get(runId) === undefined) throw new NightjarError('noSuchRun', { runId });
  }

  return {
    known,
    begin(run: RunRecord): void {
      if (!isRunId(run.id)) throw new NightjarError('internal', { reason: `a night cannot be called "${run.id}"` });
      insertRun({ ...run, plan: toJson(run.plan) });
      insertTransition({ runId: run.id, atMs: run.createdAtMs, state: run.state, cause: 'begun' });
    },
    setState(runId: string, to: RunState, cause: string, atMs: number): void {
      if (updateState({ runId, state: to }) === 0) throw new NightjarError('noSuchRun', { runId });
      insertTransition({ runId, atMs, state: to, cause });
    },
    saveChip(runId: string, chip: ChipRecord): void {
      const { opticalPath, focusPoints, dark, ladder, flat, calibration } = chip;
      upsertChip({ runId, chip: chip.chip, opticalPath, focusPoints: toJson(focusPoints), dark: toJson(dark), ladder: toJson(ladder), flat: flat ? toJson(flat) : null, calibration: calibration ? toJson(calibration) : null });
    },
    addEvent(runId: string, event: EventRecord): void {
      insertEvent({ runId, ...event });
    },
    byId: (runId: string): RunRecord | undefined => byId(runId)[0],
    latest: (): RunRecord | undefined => latest()[0],
    ids: (): string[] => ids.all().map(String),
    transitions: reader(context, 'transition', transitionRow, 'SELECT * FROM transition WHERE run_id = ? ORDER BY seq'),
    chips: reader(context, 'chip', chipRow, 'SELECT * FROM chip WHERE run_id = ? ORDER BY rowid'),
    events: reader(context, 'event', eventRow, 'SELECT * FROM event WHERE run_id = ? ORDER BY seq'),
  };
}
