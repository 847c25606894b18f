import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sourceFile } from '../builtFile.ts';
import { beginNight, type OpenedNight } from '../run/openNight.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { readNightFiles } from './inputs.ts';
import { openNightWork, type NightWork } from './nightWork.ts';
import { runWithProgress, summaryText } from './runNight.ts';
import { openPage, portFrom, untilInterrupted } from './serve.ts';

interface DemoOptions {
  readonly once?: boolean;
  readonly port: string;
}

/** `nightjar demo`: a night on the simulated microscope, in a minute. */
export const demoCommand: AddCommand = (program, context, done) => {
  program
    .command('demo')
    .description('scan an invented tray of three chips on a simulated microscope, in accelerated time, with the page open')
    .option('--once', 'end when the scan is done instead of keeping the page open')
    .option('-p, --port <n>', 'port on 127.0.0.1; 0 takes a free one', '0')
    .action(async (options: DemoOptions) => {
      const folder = await mkdtemp(join(tmpdir(), 'nightjar-demo-'));
      try {
        done(await demo(context, options, folder));
      } finally {
        await rm(folder, { recursive: true, force: true });
      }
    });
};

async function demo(context: CommandContext, options: DemoOptions, folder: string): Promise<number> {
  const files = await readNightFiles(sourceFile('daemon/demo/tonight.yaml'), sourceFile('daemon/demo/instrument.yaml'));
  let opened: OpenedNight | undefined;
  const work = await openNightWork(context, { dataDirectory: folder, config: (records) => (opened = beginNight(records, files, context.clock.now())).config });
  try {
    const server = await openPage(context, work, portFrom(options.port));
    context.output.write(`A simulated microscope scans three invented chips; its hours pass in seconds.\nThe page is at ${server.url}\n\n`);
    try {
      return opened ? await run(context, work, opened, server.url, options.once === true) : 1;
    } finally {
      await server.close();
    }
  } finally {
    await work.close();
  }
}

async function run(context: CommandContext, work: NightWork, opened: OpenedNight, url: string, once: boolean): Promise<number> {
  const { exitCode } = await runWithProgress(context, work, opened, context.output);
  context.output.write(`${summaryText(work, opened)}\n\n`);
  if (once || context.interrupted.aborted) return exitCode;
  context.output.write(`The page stays up at ${url}. Ctrl-C ends it.\n`);
  await untilInterrupted(context);
  return 0;
}
