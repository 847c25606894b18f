import { writeFile } from 'node:fs/promises';
import { NightjarError } from '../errors/index.ts';
import { factsOf } from '../notice/facts.ts';
import { noticeHtml } from '../notice/html.ts';
import { dayAndTime, startFrom } from '../notice/times.ts';
import { planNight } from '../run/planNight.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { readNightFiles } from './inputs.ts';

interface NoticeOptions {
  readonly instrument: string;
  readonly out: string;
  readonly from?: string;
}

/** `nightjar notice RUNSHEET`: the page for the door. */
export const noticeCommand: AddCommand = (program, context, done) => {
  program
    .command('notice')
    .description('a page for the door: what runs, until when, what can hurt, how to stop it, whom to call; nothing moves')
    .argument('<runsheet>', 'what to scan tonight (YAML)')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('-o, --out <file>', 'the page, to be opened in a browser and printed', 'notice.html')
    .option('--from <time>', 'when it begins, like 21:30; now when left out')
    .action(async (runSheetFile: string, options: NoticeOptions) => {
      await writeNotice(context, runSheetFile, options);
      done(0);
    });
};

async function writeNotice({ clock, output }: CommandContext, runSheetFile: string, { instrument, out, from }: NoticeOptions): Promise<void> {
  if (!/\.html?$/i.test(out)) throw new NightjarError('badUsage', { reason: `--out ${out}: a name that ends in .html is wanted; open it in a browser to print it, or to keep it as PDF` });
  const fromMs = from === undefined ? clock.now() : startFrom(from, clock.now());
  if (fromMs === undefined) throw new NightjarError('badUsage', { reason: `--from ${from}: a time of day is wanted, like 21:30` });
  const { sheet, config } = await readNightFiles(runSheetFile, instrument);
  const facts = factsOf({ sheet, config, plan: planNight(sheet, config), fromMs });
  await writeFile(out, noticeHtml(facts));
  output.write(
    `${out}: from ${dayAndTime(facts.fromMs)}, forecast until ${dayAndTime(facts.forecastEndMs)}, at the latest ${dayAndTime(facts.latestEndMs)}.\n` +
      'Print it from a browser at 100 %, fill in where the switch is and who is responsible, and have it signed as your rules want it.\n',
  );
}
