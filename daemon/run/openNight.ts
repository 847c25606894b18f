import type { InstrumentConfig } from '../config/instrument.ts';
import { checkTogether, parseInstrument, parseRunSheet } from '../config/load.ts';
import type { RunSheet } from '../config/runSheet.ts';
import { NightjarError } from '../errors/index.ts';
import type { Records, RunRecord } from '../records/types.ts';
import type { ScanPlan } from '../../planner/plan/types.ts';
import { planNight } from './planNight.ts';

/** Both files of a night, read and checked against each other; the texts are kept for the records. */
export interface NightFiles {
  readonly sheet: RunSheet;
  readonly config: InstrumentConfig;
  readonly runSheetText: string;
  readonly instrumentText: string;
}

/** A night in the records, ready to be run or looked at. */
export interface OpenedNight {
  readonly runId: string;
  readonly plan: ScanPlan;
  readonly sheet: RunSheet;
  readonly config: InstrumentConfig;
}


/** Understands both texts. Throws `badConfig` with every problem found; the names are only for the messages. */
export function understand(runSheetText: string, runSheetFile: string, instrumentText: string, instrumentFile: string): NightFiles {
  const config = parseInstrument(instrumentText, instrumentFile);
  const sheet = parseRunSheet(runSheetText, runSheetFile);
  checkTogether(sheet, config, { text: runSheetText, file: runSheetFile });
  return { sheet, config, runSheetText, instrumentText };
}

/** Plans, audits and writes the beginning of a night. Throws `planRefused` or `unfinishedNight` before anything is written or moved. */
export function beginNight(records: Records, files: NightFiles, nowMs: number): OpenedNight {
  const plan = planNight(files.sheet, files.config);
  const before = unfinishedNight(records);
  if (before) throw new NightjarError('unfinishedNight', { title: before.title });
  const runId = newRunId(records, nowMs);
  records.beginRun({ id: runId, title: files.sheet.title, createdAtMs: nowMs, runSheetText: files.runSheetText, instrumentText: files.instrumentText, plan, state: 'preflight' });
  return { runId, plan, sheet: files.sheet, config: files.config };
}

/** A night as the records keep it: files and plan of when it was begun. */
export function recordedNight(run: RunRecord): OpenedNight {
  const { sheet, config } = understand(run.runSheetText, 'run sheet in the records', run.instrumentText, 'instrument file in the records');
  return { runId: run.id, plan: run.plan, sheet, config };
}

/** The last night, if it has not come to its end: killed, parked or cut off. */
export function unfinishedNight(records: Records): RunRecord | undefined {
  const run = records.latestRun();
  return run && run.state !== 'finished' ? run : undefined;
}

/** The unfinished night to go on with. Throws `noRun` or `cannotResume`. */
export function nightToResume(records: Records): OpenedNight {
  const latest = records.latestRun();
  if (!latest) throw new NightjarError('noRun', {});
  const run = unfinishedNight(records);
  if (!run) throw new NightjarError('cannotResume', { reason: `"${latest.title}" is ${latest.state}` });
  return recordedNight(run);
}

/** Names a night by its beginning, "20260117-213005"; a number follows when there is one of that second already. */
function newRunId(records: Records, nowMs: number): string {
  const second = new Date(nowMs).toISOString().slice(0, 19).replaceAll(/[-:]/g, '').replace('T', '-');
  let id = second;
  for (let n = 2; records.run(id); n++) id = `${second}-${n}`;
  return id;
}
