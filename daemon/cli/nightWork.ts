import { availableParallelism } from 'node:os';
import pino, { type Logger } from 'pino';
import { WorkerPool } from '../classify/pool.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import { hasCode } from '../errors/index.ts';
import { openInstrument, type OpenInstrument } from '../instrument/open.ts';
import { checkOnStart } from '../records/check/onStart.ts';
import { diskFreeBytes } from '../records/diskSpace.ts';
import { openRecords } from '../records/open.ts';
import type { RecordsStore } from '../records/types.ts';
import { Observatory } from '../run/observatory.ts';
import { RecalibrationThread } from '../run/recalibrationThread.ts';
import type { OpenedPeople } from '../telling/openPeople.ts';
import { Teller } from '../telling/teller.ts';
import type { CommandContext } from './context.ts';

/** Everything that a command which may run a night holds open. */
export interface NightWork {
  readonly observatory: Observatory;
  readonly records: RecordsStore;
  readonly instrument: OpenInstrument;
  readonly log: Logger;
  /** Tells people of the night, where any are named. */
  readonly teller?: Teller;
  close(): Promise<void>;
}

export interface NightWorkOptions {
  readonly dataDirectory: string;
  /** The instrument file to use, once the records are open: a night that goes on keeps the one it was begun with. */
  readonly config: (records: RecordsStore) => InstrumentConfig;
  readonly workers?: number;
  readonly logFile?: string;
  readonly people?: OpenedPeople;
  /** The daemon outlives its night, so that a summary may wait for the morning. */
  readonly staysOn?: boolean;
}

/** Classifier workers where nothing else is said: one core is left to the stage, the disk and the page. */
export function usualWorkers(): number {
  return Math.max(1, Math.min(4, availableParallelism() - 1));
}

/** Opens records, instrument and workers; what was opened is closed again when a later one fails. */
export async function openNightWork(context: CommandContext, options: NightWorkOptions): Promise<NightWork> {
  const records = openRecords(options.dataDirectory);
  try {
    const log = pino({ level: 'info', base: null }, pino.destination({ dest: options.logFile ?? `${options.dataDirectory}/nightjar.log`, sync: true, mkdir: true }));
    checkRecords(records, log, context.clock.now());
    const config = options.config(records);
    const instrument = await openInstrument(config, { realClock: context.clock });
    const pool = new WorkerPool(options.workers ?? usualWorkers(), context.clock);
    const rereading = new RecalibrationThread();
    const observatory = new Observatory({ records, instrument, config, pool, log, waitingClock: context.clock, freeBytes: () => diskFreeBytes(options.dataDirectory), recalibrate: rereading.recalibrate });
    const teller = options.people && new Teller({ opened: options.people, board: observatory.board, records, clock: context.clock, nightClock: instrument.instrument.clock, log, staysOn: options.staysOn === true });
    return {
      observatory,
      records,
      instrument,
      log,
      ...(teller ? { teller } : {}),
      close: async () => {
        instrument.setPace('fast');
        await observatory.endLive();
        await pool.close();
        await rereading.close();
        log.info({ counters: instrument.counters() }, 'what the drivers have counted');
        await instrument.close();
        await teller?.close(context.interrupted);
        records.close();
      },
    };
  } catch (error) {
    records.close();
    throw error;
  }
}

/**
 * Mends or tells what a process that was cut off has left. Where even that cannot be written (a full disk), the night says so itself.
 * Throws `damagedRecords`.
 */
function checkRecords(records: RecordsStore, log: Logger, nowMs: number): void {
  try {
    const found = checkOnStart(records, nowMs);
    if (found) log.info(found, 'the last night as it was found');
  } catch (error) {
    if (hasCode(error, 'damagedRecords')) throw error;
    log.error({ err: error }, 'the last night could not be checked');
  }
}
