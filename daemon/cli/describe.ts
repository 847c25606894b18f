import { lineFrom, openerFor } from '../describe/lineFrom.ts';
import { readDescription, type CheckedDescription } from '../describe/readDescription.ts';
import { summaryText } from '../describe/summary.ts';
import { caution, resultsText, tryDevice } from '../describe/trial.ts';
import { NightjarError } from '../errors/index.ts';
import { alwaysYes, atTerminal } from './ask.ts';
import type { AddCommand, CommandContext } from './context.ts';

interface DescribeOptions {
  readonly try?: boolean;
  readonly line?: string;
  readonly yes?: boolean;
}

const explanation = `
A description says in YAML how a controller with ASCII commands is spoken to. Begin with a copy of one of the examples in
daemon/demo/devices, put in what the device's manual says, and try it line by line with --try.

  nightjar describe mine.yaml
  nightjar describe mine.yaml --try --line serial:/dev/serial/by-id/NAME@115200
  nightjar describe mine.yaml --try --line tcp:192.168.1.20:4400`;

/** `nightjar describe FILE`: checks the description of a device, and tries it on the device itself. */
export const describeCommand: AddCommand = (program, context, done) => {
  program
    .command('describe')
    .description('check the description of a device; with --try talk to the device step by step and say what works')
    .argument('<file>', 'the YAML file')
    .option('--try', 'talk to the device')
    .option('--line <line>', 'where it is: serial:PORT@BAUD or tcp:HOST:PORT')
    .option('--yes', 'do not ask before something moves or lights up')
    .addHelpText('after', explanation)
    .action(async (file: string, options: DescribeOptions) => {
      done(await describe(context, file, options));
    });
};

async function describe(context: CommandContext, file: string, options: DescribeOptions): Promise<number> {
  const checked = await readDescription(file);
  if (options.try) return tryIt(context, checked, options);
  if (options.line !== undefined) throw badUsage('--line without --try: say --try too, to talk to the device');
  context.output.write(`${file}: the description of a device, in order.\n\n${summaryText(checked.description)}\n`);
  return 0;
}

async function tryIt(context: CommandContext, { plan }: CheckedDescription, { line, yes }: DescribeOptions): Promise<number> {
  if (line === undefined) throw badUsage('--try without --line: say where the device is, serial:PORT@BAUD or tcp:HOST:PORT');
  const { clock, output, interrupted } = context;
  const openWire = openerFor(lineFrom(line), clock);
  const tell = (text: string): void => output.write(`${text}\n`);
  tell(`${caution}\n\n${plan.maker} ${plan.model} on ${line}`);
  const ask = yes ? alwaysYes(tell) : atTerminal(context);
  const results = await tryDevice({ plan, openWire, clock, ask, tell, signal: interrupted });
  tell(`\n${resultsText(results)}`);
  return results.some(({ outcome }) => outcome === 'doesNotWork') ? 1 : 0;
}

function badUsage(reason: string): NightjarError<'badUsage'> {
  return new NightjarError('badUsage', { reason });
}
