import type { Instrument } from '../../drivers/interfaces/index.ts';
import { parseInstrument } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import { lengthUm, NightjarError } from '../errors/index.ts';
import { openInstrument } from '../instrument/open.ts';
import { isHeightLost, reference } from '../run/reference.ts';
import { alwaysYes, atTerminal } from './ask.ts';
import type { AddCommand, CommandContext } from './context.ts';

interface HomeOptions {
  readonly instrument: string;
  readonly here?: boolean;
  readonly yes?: boolean;
}

const explanation = `
After power was off, after an alarm, or when a cable was pulled, a controller may not know where its axes stand; nothing moves before it does.
The objective goes up first, to its own switch where it has one; then the stage finds its switches.

A controller without switches is told by you: take every axis by hand to its reference place (\`zeroAtUm\` in the instrument file), then say
nightjar home --here.`;

const caution = [
  'CAUTION. The objective goes up, and the stage crosses its whole travel to its switches. See that the objective is clear of the chips, that nothing',
  'lies in the way of either, and keep hands away. Stopping from here is no safety device: have the switch at hand that takes the motors\' power.',
  'Local rules and trained people decide what may be done.',
].join('\n');

/** `nightjar home`: lets the axes find out where they are. */
export const homeCommand: AddCommand = (program, context, done) => {
  program
    .command('home')
    .description('let stage and focus drive find their reference switches, objective first')
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('--here', 'for axes without switches: they stand at their reference place now')
    .option('--yes', 'do not ask before anything moves')
    .addHelpText('after', explanation)
    .action(async (options: HomeOptions) => {
      done(await home(context, options));
    });
};

async function home(context: CommandContext, options: HomeOptions): Promise<number> {
  const { text, file } = await readSource(options.instrument);
  const config = parseInstrument(text, file);
  const tell = (said: string): void => context.output.write(`${said}\n`);
  const ask = options.yes ? alwaysYes(tell) : atTerminal(context);
  if (!options.here) tell(caution);
  const question = options.here ? 'Do all axes without switches stand at their reference places?' : 'Home now?';
  if (!(await ask(question))) {
    tell('Nothing has moved.');
    return 1;
  }
  const opened = await openInstrument(config, { realClock: context.clock });
  try {
    if (options.here) await takeReferences(opened.instrument);
    else await homeAll(opened.instrument, config.limits.safeHeightUm, context.interrupted);
    tell(await whereText(opened.instrument));
    return 0;
  } finally {
    await opened.close();
  }
}

/** Homes what is lost; where everything knows its place, the stage all the same, for that is what was asked. */
async function homeAll(instrument: Instrument, safeHeightUm: number, signal: AbortSignal): Promise<void> {
  if (!(await reference(instrument, safeHeightUm, signal))) await instrument.stage.home(signal);
}

async function takeReferences({ stage, focus }: Instrument): Promise<void> {
  if (!stage.takeReference && !focus.takeReference) throw new NightjarError('badUsage', { reason: 'home --here: no axis of this instrument is referenced by hand; leave --here out' });
  await stage.takeReference?.();
  await focus.takeReference?.();
}

async function whereText(instrument: Instrument): Promise<string> {
  const { xUm, yUm } = await instrument.stage.position();
  const height = (await isHeightLost(instrument)) ? 'at a height that is not known' : `at ${lengthUm(await instrument.focus.position())}`;
  return `The stage is at ${lengthUm(xUm)}, ${lengthUm(yUm)}, the objective ${height}.`;
}
