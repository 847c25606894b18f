import { resolve } from 'node:path';
import { NightjarError } from '../errors/index.ts';
import { builtFile } from '../builtFile.ts';
import { readSource } from '../config/readSource.ts';
import { parseInstrument } from '../config/load.ts';
import { beginNight, recordedNight, unfinishedNight, type NightFiles, type OpenedNight } from '../run/openNight.ts';
import type { Records } from '../records/types.ts';
import { toldBy } from '../preflight/told.ts';
import { startServer, type RunningServer } from '../server/index.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { openDoor, whereReached, withDoorOptions, type DoorOptions, type DoorWords } from './doorOptions.ts';
import { readNightFiles } from './inputs.ts';
import { openNightWork, type NightWork } from './nightWork.ts';
import { checkedNight } from './checkedNight.ts';
import { noTellWords, peopleToTell, tellWords, type TellOption } from './tell.ts';
import { runWithProgress, summaryText } from './runNight.ts';

interface ServeOptions extends DoorWords {
  readonly instrument: string;
  readonly data: string;
  readonly port: string;
  readonly tell?: TellOption;
  readonly preflight?: boolean;
  readonly lampOnSince?: string;
  readonly endBefore?: string;
}

/** `nightjar serve [RUNSHEET]`: the daemon with its page. */
export const serveCommand: AddCommand = (program, context, done) => {
  const command = program
    .command('serve')
    .description('open the page; begin the run sheet if one is named, else go on with a night that was cut off')
    .argument('[runsheet]', 'what to scan tonight (YAML)')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('-d, --data <folder>', 'where the records are kept', 'nightjar-data')
    .option('-p, --port <n>', 'port; 0 takes a free one', '7310')
    .option('--preflight', 'check first, and begin the night from the page')
    .option('--lamp-on-since <time>', 'with --preflight: when the lamp was switched on, as 19:40')
    .option('--end-before <time>', 'with --preflight: the night is to be over by then, as 08:00')
    .option(...tellWords)
    .option(...noTellWords);
  withDoorOptions(command).action(async (runSheetFile: string | undefined, options: ServeOptions) => {
    done(await serve(context, runSheetFile, options));
  });
};

async function serve(context: CommandContext, runSheetFile: string | undefined, options: ServeOptions): Promise<number> {
  const files = runSheetFile === undefined ? undefined : await readNightFiles(runSheetFile, options.instrument);
  const instrumentText = files ? files.instrumentText : (await readSource(options.instrument)).text;
  const told = toldBy(options, context.clock.now());
  if (options.preflight && !files) throw new NightjarError('badUsage', { reason: '--preflight: name the run sheet of the night that is to be checked' });
  const toCheck = options.preflight ? files : undefined;
  const people = await peopleToTell(context, options.tell, options.instrument);
  const port = portFrom(options.port);
  const door = await openDoor(context, options);
  let opened: OpenedNight | undefined;
  const work = await openNightWork(context, {
    dataDirectory: resolve(options.data),
    ...(people ? { people, staysOn: true } : {}),
    config: (records) => {
      if (toCheck) return toCheck.config;
      opened = nightToRun(records, files, context.clock.now());
      return opened?.config ?? parseInstrument(instrumentText, options.instrument);
    },
  });
  try {
    const server = await openPage(context, work, port, door);
    work.teller?.pageIs(server.url);
    context.output.write(`The page is at ${whereReached(server.url, options)}. Ctrl-C ends the daemon.\n`);
    try {
      if (toCheck) opened = await checkedNight(context, work, toCheck, { directory: resolve(options.data), told });
      if (!context.interrupted.aborted) await runIfAny(context, work, opened);
      if (!context.interrupted.aborted) await untilInterrupted(context);
    } finally {
      await server.close();
    }
    return 0;
  } finally {
    await work.close();
  }
}

/** A named run sheet begins a night; without one, a night that was cut off goes on. */
function nightToRun(records: Records, files: NightFiles | undefined, nowMs: number): OpenedNight | undefined {
  if (files) return beginNight(records, files, nowMs);
  const cutOff = unfinishedNight(records);
  return cutOff ? recordedNight(cutOff) : undefined;
}

async function runIfAny(context: CommandContext, work: NightWork, opened: OpenedNight | undefined): Promise<void> {
  const last = work.records.latestRun();
  if (!opened && last) work.observatory.showNight(recordedNight(last));
  if (!opened) return;
  await runWithProgress(context, work, opened, context.output);
  context.output.write(`${summaryText(work, opened)}\n`);
}

/** Opens the page: on this computer, where nothing else is said. */
export function openPage({ clock, secrets }: CommandContext, { observatory, log }: NightWork, port: number, door: DoorOptions = {}): Promise<RunningServer> {
  return startServer({ ...door, port, clock, secrets, feed: observatory.board, controls: observatory, pictures: observatory, uiDirectory: builtFile('ui'), log });
}

/** Resolves when the person asks for an end. */
export function untilInterrupted({ interrupted }: CommandContext): Promise<void> {
  if (interrupted.aborted) return Promise.resolve();
  return new Promise((resolveWait) => interrupted.addEventListener('abort', () => resolveWait(), { once: true }));
}

/** A port from the command line. Throws `badUsage`. */
export function portFrom(text: string): number {
  const port = Number(text);
  if (!Number.isInteger(port) || port < 0 || port > 65_535) throw new NightjarError('badUsage', { reason: `--port ${text}: a whole number from 0 to 65535 is wanted` });
  return port;
}
