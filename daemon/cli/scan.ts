import { resolve } from 'node:path';
import { NightjarError } from '../errors/index.ts';
import { beginNight, nightToResume, type OpenedNight } from '../run/openNight.ts';
import type { Records } from '../records/types.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { readNightFiles } from './inputs.ts';
import { openNightWork, type NightWork } from './nightWork.ts';
import { noTellWords, peopleToTell, tellWords, type TellOption } from './tell.ts';
import { runWithProgress, summaryOf, summaryText } from './runNight.ts';

interface ScanOptions {
  readonly instrument: string;
  readonly data: string;
  readonly resume?: boolean;
  readonly json?: boolean;
  readonly workers?: string;
  readonly tell?: TellOption;
}

/** `nightjar scan RUNSHEET`: a whole night without a page. */
export const scanCommand: AddCommand = (program, context, done) => {
  program
    .command('scan')
    .description('scan a run sheet without a page, with progress; the records are kept in the data folder')
    .argument('[runsheet]', 'what to scan tonight (YAML); not needed with --resume')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('-d, --data <folder>', 'where the records are kept', 'nightjar-data')
    .option('--resume', 'go on with the night that was cut off, from its last recorded tile')
    .option('--json', 'print what was found as JSON instead of a table')
    .option('--workers <n>', 'classifier threads')
    .option(...tellWords)
    .option(...noTellWords)
    .action(async (runSheetFile: string | undefined, options: ScanOptions) => {
      done(await scan(context, runSheetFile, options));
    });
};

async function scan(context: CommandContext, runSheetFile: string | undefined, options: ScanOptions): Promise<number> {
  const files = runSheetFile === undefined || options.resume ? undefined : await readNightFiles(runSheetFile, options.instrument);
  if (!files && !options.resume) throw new NightjarError('badUsage', { reason: 'Name a run sheet, or go on with --resume' });
  const people = await peopleToTell(context, options.tell, options.instrument);
  let opened: OpenedNight | undefined;
  const open = (records: Records): OpenedNight => (files ? beginNight(records, files, context.clock.now()) : nightToResume(records));
  const work = await openNightWork(context, {
    dataDirectory: resolve(options.data),
    config: (records) => (opened = open(records)).config,
    ...(people ? { people } : {}),
    ...(options.workers === undefined ? {} : { workers: workersFrom(options.workers) }),
  });
  try {
    return opened ? await run(context, work, opened, options.json === true) : 1;
  } finally {
    await work.close();
  }
}

async function run(context: CommandContext, work: NightWork, opened: OpenedNight, json: boolean): Promise<number> {
  const { machine, exitCode } = await runWithProgress(context, work, opened, json ? context.errors : context.output);
  const summary = summaryOf(work, opened, machine);
  context.output.write(json ? `${JSON.stringify(summary, null, 2)}\n` : `${summaryText(work, opened)}\n`);
  return exitCode;
}

/** A number of threads from the command line. Throws `badUsage`. */
export function workersFrom(text: string): number {
  const workers = Number(text);
  if (!Number.isInteger(workers) || workers < 1 || workers > 64) throw new NightjarError('badUsage', { reason: `--workers ${text}: a whole number from 1 to 64 is wanted` });
  return workers;
}
