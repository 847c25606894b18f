import { parseInstrument, readSource, type InstrumentConfig } from '../config/index.ts';
import type { Finder } from '../instruments/finder.ts';
import { isComplete, surveyWith } from '../instruments/survey.ts';
import { surveyJson, surveyText } from '../instruments/surveyText.ts';
import { createSystemFinder } from '../instruments/systemFinder.ts';
import type { AddCommand, CommandContext } from './context.ts';

const explanation = `
Nothing moves, no serial port is opened and nothing is sent to a controller. Cameras are called on the network, and TCP lines of the
instrument file are connected to for a moment: not while a night is running, since many controllers take one connection at a time.

Exit code: 0; with an instrument file 1 when something that it asks for was not found.`;

/** `nightjar instruments`: lists the cameras and serial ports that are there, and whether an instrument file finds its devices. */
export const instrumentsCommand: AddCommand = (program, context, done) => {
  program
    .command('instruments')
    .description('list the cameras and serial ports that are there; with an instrument file also whether its devices are found')
    .argument('[instrument]', 'an instrument file (YAML)')
    .option('--json', 'print it as JSON')
    .addHelpText('after', explanation)
    .action(async (file: string | undefined, options: { json?: boolean }) => {
      done(await listInstruments(context, createSystemFinder(context.clock), file, options.json === true));
    });
};

/** The command over any way of looking. Rejects where the instrument file is not in order. */
export async function listInstruments({ output }: Pick<CommandContext, 'output'>, finder: Finder, file: string | undefined, json: boolean): Promise<number> {
  const survey = await surveyWith(finder, file === undefined ? undefined : await instrumentOf(file));
  output.write(`${json ? surveyJson(survey) : surveyText(survey, file)}\n`);
  return isComplete(survey) ? 0 : 1;
}

async function instrumentOf(file: string): Promise<InstrumentConfig> {
  const source = await readSource(file);
  return parseInstrument(source.text, source.file);
}
