import type { Bench, Procedure } from '../calibrate/bench.ts';
import { calibrate, otherPaths } from '../calibrate/calibrate.ts';
import { caution, micrometerText } from '../calibrate/words.ts';
import { parseInstrument } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import { opticalPathFor } from '../config/resolve.ts';
import { NightjarError } from '../errors/index.ts';
import { openInstrument } from '../instrument/open.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { pointFrom } from './point.ts';

interface CalibrateOptions {
  readonly instrument: string;
  readonly at?: string;
  readonly path?: string;
  readonly to?: string;
  readonly pitchUm: string;
  readonly focusRangeUm: string;
}

const procedures: readonly Procedure[] = ['camera', 'backlash', 'objectives', 'scale', 'linearity'];

const explanation = `
camera      how the camera lies on the stage: moves of known length, and where the picture goes
backlash    slack of both axes: one place reached from below and from above
objectives  focus and picture centre of the other objectives against the first
scale       true size of a pixel, with a stage micrometer under the objective
linearity   whether twice the exposure gives twice the light within 1 %; the objective stays up, a bright place is best

Go to a place with flakes or dust all round. The instrument file is not written: the lines to put into it are printed. A good order is
scale (where there is a micrometer), camera, backlash, objectives; camera with the weakest objective, for it serves all of them.
Afterwards the objective is up and the lamp off.`;

/** `nightjar calibrate PROCEDURE`: measures the instrument and prints what to put into its file. */
export const calibrateCommand: AddCommand = (program, context, done) => {
  program
    .command('calibrate')
    .description('measure the instrument: camera, backlash, objectives, scale or linearity; prints the lines for its file')
    .argument('<procedure>', `one of ${procedures.join(', ')}`)
    .option('-i, --instrument <file>', 'the instrument file', 'instrument.yaml')
    .option('--at <x,y>', 'place on the stage in um; where it stands when left out')
    .option('--path <name>', 'optical path to use; the first of the file when left out')
    .option('--to <name>', 'objectives: the other optical path; those of all other objectives when left out')
    .option('--pitch-um <um>', 'scale: true distance of the micrometer\'s lines', '10')
    .option('--focus-range-um <um>', 'how far above and below the expected height focus is sought', '60')
    .addHelpText('after', explanation)
    .action(async (procedure: string, options: CalibrateOptions) => {
      await run(context, procedureFrom(procedure), options);
      done(0);
    });
};

async function run(context: CommandContext, procedure: Procedure, options: CalibrateOptions): Promise<void> {
  const { text, file } = await readSource(options.instrument);
  const config = parseInstrument(text, file);
  const path = opticalPathFor(options.path ?? Object.keys(config.opticalPaths)[0] ?? '', config);
  const others = procedure === 'objectives' ? (options.to === undefined ? otherPaths({ config }, path) : [opticalPathFor(options.to, config).name]) : [];
  if (procedure === 'objectives' && others.length === 0) throw badUsage('There is no optical path with another objective to measure');
  const pitchUm = positiveFrom('--pitch-um', options.pitchUm);
  const focusRangeUm = positiveFrom('--focus-range-um', options.focusRangeUm);
  const at = options.at === undefined ? undefined : pointFrom('--at', options.at);
  context.output.write(`${caution}\n${procedure === 'scale' ? `\n${micrometerText}\n` : ''}\n`);
  const opened = await openInstrument(config, { realClock: context.clock });
  try {
    const { instrument } = opened;
    const tell = (said: string): void => context.errors.write(`${said}\n`);
    const bench: Bench = { instrument, config, path, atUm: at ?? (await instrument.stage.position()), focusRangeUm, signal: context.interrupted, tell };
    context.output.write(`${await calibrate(bench, { procedure, others, pitchUm })}\n`);
  } finally {
    await opened.close();
  }
}

function procedureFrom(word: string): Procedure {
  const found = procedures.find((name) => name === word);
  if (!found) throw badUsage(`calibrate ${word}: one of ${procedures.join(', ')} is wanted`);
  return found;
}

function positiveFrom(option: string, text: string): number {
  const value = Number(text);
  if (!(value > 0 && Number.isFinite(value))) throw badUsage(`${option} ${text}: a length in um above 0 is wanted`);
  return value;
}

function badUsage(reason: string): NightjarError<'badUsage'> {
  return new NightjarError('badUsage', { reason });
}
