import { resolve } from 'node:path';
import { openInstrument } from '../instrument/open.ts';
import { benchFor } from '../preflight/bench.ts';
import { forecastEndMs } from '../preflight/computer.ts';
import { systemGround } from '../preflight/ground.ts';
import { preflight, readinessOf, reminders, type Progress } from '../preflight/preflight.ts';
import { toldBy } from '../preflight/told.ts';
import { findingLines, nextAction, readinessSentence } from '../preflight/words.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { readNightFiles } from './inputs.ts';

interface PreflightOptions {
  readonly instrument: string;
  readonly data: string;
  readonly lampOnSince?: string;
  readonly endBefore?: string;
  readonly json?: boolean;
}

const explanation = `
It goes to one place near the middle of each chip, with the objective up in between, and leaves the objective up and the lamp on, so that it stays warm.

CAUTION. Stage and objective move. See that nothing lies in their way, and keep hands away. Stopping from here (Ctrl-C) is no safety device: have the
switch at hand that takes the motors' power. Local rules and trained people decide what may be done.

Exit code: 0 ready, also where you are to look at something yourself; 1 not ready; 2 wrong input; 130 interrupted.`;

/** `nightjar preflight RUNSHEET`: whether this night may begin. */
export const preflightCommand: AddCommand = (program, context, done) => {
  program
    .command('preflight')
    .description('before you leave: devices, limits, lamp, camera, focus on each chip, disk and clock; says ready, or what is not')
    .argument('<runsheet>', 'what to scan tonight (YAML)')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('-d, --data <folder>', 'where the records are kept', 'nightjar-data')
    .option('--lamp-on-since <time>', 'when the lamp was switched on, as 19:40')
    .option('--end-before <time>', 'the night is to be over by then, as 08:00')
    .option('--json', 'print it as JSON')
    .addHelpText('after', explanation)
    .action(async (runSheetFile: string, options: PreflightOptions) => {
      done(await run(context, runSheetFile, options));
    });
};

async function run(context: CommandContext, runSheetFile: string, options: PreflightOptions): Promise<number> {
  const files = await readNightFiles(runSheetFile, options.instrument);
  const told = toldBy(options, context.clock.now());
  const opened = await openInstrument(files.config, { realClock: context.clock });
  try {
    const ground = systemGround(resolve(options.data), context.clock);
    const bench = benchFor(files, opened.instrument, ground, told, context.interrupted);
    if (!options.json) context.output.write('Stage and objective move now. Stop from here (Ctrl-C) is not a safety device.\n\n');
    const findings = await preflight(bench, options.json ? () => undefined : lineByLine(context));
    const readiness = readinessOf(findings);
    const end = { readiness, findings, doneAtMs: forecastEndMs(bench), next: nextAction(readiness, findings), reminders };
    context.output.write(options.json ? `${JSON.stringify(end, null, 2)}\n` : ['', ...reminders.map((text) => `- ${text}`), '', readinessSentence(readiness, findings), 'The objective is up; the lamp was left on to stay warm.', end.next, ''].join('\n'));
    return readiness === 'notReady' ? 1 : 0;
  } finally {
    await opened.close();
  }
}

/** Writes each finding as it comes. */
function lineByLine({ output }: CommandContext): (progress: Progress) => void {
  let told = 0;
  return ({ findings }) => {
    for (const finding of findings.slice(told)) output.write(`${findingLines(finding)}\n`);
    told = findings.length;
  };
}
