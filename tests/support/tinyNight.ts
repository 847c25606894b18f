import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pino from 'pino';
import type { FramePool } from '../../daemon/classify/pool.ts';
import { openSimulatedInstrument } from '../../daemon/instrument/open.ts';
import { canonicalDump, openRecords } from '../../daemon/records/index.ts';
import type { RecordsStore } from '../../daemon/records/types.ts';
import type { WriteBytes } from '../../daemon/records/writeDurably.ts';
import type { RunMachine } from '../../daemon/run/machine.ts';
import { Observatory } from '../../daemon/run/observatory.ts';
import { beginNight, nightToResume, type NightFiles, type OpenedNight } from '../../daemon/run/openNight.ts';
import type { OpenInstrument } from '../../daemon/instrument/open.ts';
import { inlinePool } from './inlinePool.ts';
import { instantClock } from './instantClock.ts';
import { openRig, type Rig, type RigOptions } from './rig.ts';
import { standingClock } from './standingClock.ts';
import { tinyFiles } from './tinyFiles.ts';

/** When every tiny night begins, on its own clock: an evening of our own choice. */
export const startMs = Date.UTC(2026, 0, 17, 20, 30);

/** Patience for tests of several nights: seconds on a free machine, ten times as long on one that is shared. */
export const slowMachineMs = 180_000;

export interface TinyNightOptions {
  /** Kept from an earlier night of the same test; a new one when left out. */
  readonly folder?: string;
  readonly files?: NightFiles;
  /** Frames are measured in this thread when left out. */
  readonly pool?: FramePool;
  /** Goes on with the unfinished night of the folder. */
  readonly resume?: boolean;
  /** The database grows no further than this. */
  readonly maxBytes?: number;
  readonly freeBytes?: () => Promise<number>;
  /** How bytes get into picture files. */
  readonly writeBytes?: WriteBytes;
  /** What the night's own clock says at first. */
  readonly startMs?: number;
  /** On a rig: workers are not tied to the instrument's clock, as with a real one. */
  readonly untied?: boolean;
  /** On a rig: what is otherwise than the instrument file says. */
  readonly change?: NonNullable<RigOptions['change']>;
}

/** A night that is ready to be run, with everything a test may want to look at. */
export interface TinyNight<I extends OpenInstrument = OpenInstrument> {
  readonly folder: string;
  readonly records: RecordsStore;
  readonly observatory: Observatory;
  readonly opened: OpenedNight;
  readonly opener: I;
  run(): Promise<RunMachine>;
  /** The whole record of the night as text, times and events included. */
  dump(options?: { readonly times?: boolean; readonly events?: boolean }): string;
  close(): Promise<void>;
}

/** Makes tiny nights in temporary folders; `clear` closes and removes everything, whatever became of the test. */
export class TinyNights {
  private readonly folders: string[] = [];
  private readonly open: { close(): Promise<void> }[] = [];

  folder(): string {
    const folder = mkdtempSync(join(tmpdir(), 'nightjar-night-'));
    this.folders.push(folder);
    return folder;
  }

  /** A night on the daemon's own opener. */
  make(options: TinyNightOptions = {}): TinyNight {
    const files = options.files ?? tinyFiles();
    return this.assemble(options, files, openSimulatedInstrument(files.config, { realClock: instantClock(startMs), startMs: options.startMs ?? startMs, renderIn: 'here' }));
  }

  /** A night whose faults can be switched on and whose commands are written down. */
  makeOnRig(options: TinyNightOptions = {}): TinyNight<Rig> {
    const files = options.files ?? tinyFiles();
    return this.assemble(options, files, openRig(files.config, { realClock: instantClock(startMs), startMs: options.startMs ?? startMs, ...(options.untied ? { untied: true } : {}), ...(options.change ? { change: options.change } : {}) }));
  }

  async clear(): Promise<void> {
    for (const night of this.open.splice(0).reverse()) await night.close();
    for (const folder of this.folders.splice(0)) rmSync(folder, { recursive: true, force: true });
  }

  private assemble<I extends OpenInstrument>(options: TinyNightOptions, files: NightFiles, opener: I): TinyNight<I> {
    const folder = options.folder ?? this.folder();
    const { pool = inlinePool(), freeBytes = async () => 1e12 } = options;
    const records = openRecords(folder, options.maxBytes === undefined ? {} : { maxBytes: options.maxBytes });
    const night = options.resume ? nightToResume(records) : beginNight(records, files, startMs);
    const observatory = new Observatory({ records, instrument: opener, config: files.config, pool, log: pino({ enabled: false }), waitingClock: instantClock(startMs), freeBytes, ...(options.untied ? { watchClock: standingClock } : {}), ...(options.writeBytes ? { writeBytes: options.writeBytes } : {}) });
    let closing: Promise<void> | undefined;
    const close = async (): Promise<void> => {
      await observatory.endLive();
      await opener.close();
      records.close();
    };
    const made: TinyNight<I> = {
      folder,
      records,
      observatory,
      opened: night,
      opener,
      run: () => observatory.runNight(night),
      dump: (wished = {}) => canonicalDump(records, night.runId, { times: true, events: true, ...wished }),
      close: () => (closing ??= close()),
    };
    this.open.push(made);
    return made;
  }
}
