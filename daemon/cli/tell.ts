import { access } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { openPeople, type OpenedPeople } from '../telling/openPeople.ts';
import { tryChannels } from '../telling/trial.ts';
import type { AddCommand, CommandContext } from './context.ts';

/** `nightjar tell [PEOPLE]`: who is told of what, and a test message to each. */
export const tellCommand: AddCommand = (program, context, done) => {
  program
    .command('tell')
    .description('who is told of a night, and of what; reads the passwords, and sends nothing without --test')
    .argument('[people]', 'who is told (YAML)', 'people.yaml')
    .option('--test', 'send a test message to each and say what came back')
    .action(async (file: string, { test }: { test?: boolean }) => {
      const opened = await openPeople(file, { clock: context.clock, environment: process.env });
      done(test ? await sendTest(context, opened) : listed(context, opened));
    });
};

function listed({ output }: CommandContext, { channels, people }: OpenedPeople): number {
  for (const { name, about } of channels) output.write(`${name}: ${[...about].filter((kind) => kind !== 'test').join(', ')}\n`);
  output.write(`The morning summary comes ${people.morningAt === undefined ? 'at the end of the night' : `at ${people.morningAt}`}. Nothing was sent; --test sends a message to each.\n`);
  return 0;
}

async function sendTest({ output, clock, interrupted }: CommandContext, { channels, people }: OpenedPeople): Promise<number> {
  output.write(`Sending a test message: ${channels.length === 1 ? 'one way to tell' : `${channels.length} ways to tell`}, a minute for each at most.\n`);
  const ends = await tryChannels(channels, people.page, clock, interrupted);
  for (const { channel, attempt } of ends) output.write(attempt.ok ? `  ${channel}: taken (${attempt.answer})\n` : `  ${channel}: NOT told: ${attempt.reason}\n`);
  const all = ends.every(({ attempt }) => attempt.ok);
  output.write(all ? 'All were taken. Look whether they also arrived: a server may take a message and lose it, or call it unwanted.\n' : 'Not all were taken. Correct the file or the server, then try again.\n');
  return all ? 0 : 1;
}

/** What the command line says of it: a file, `false` for --no-tell, or nothing. */
export type TellOption = string | boolean | undefined;

export const tellWords = ['--tell <file>', 'who is told of the night (default: people.yaml beside the instrument file, where there is one)'] as const;
export const noTellWords = ['--no-tell', 'tell nobody'] as const;

/** The people to tell, by the command line: the file that is named, else `people.yaml` beside the instrument file where there is one. */
export async function peopleToTell(context: CommandContext, tell: TellOption, instrumentFile: string): Promise<OpenedPeople | undefined> {
  if (tell === false) return undefined;
  const usual = join(dirname(instrumentFile), 'people.yaml');
  const file = typeof tell === 'string' ? tell : (await exists(usual)) ? usual : undefined;
  if (file === undefined) return undefined;
  const opened = await openPeople(file, { clock: context.clock, environment: process.env });
  context.errors.write(`Told of this night: ${opened.channels.map(({ name }) => name).join(', ')}.\n`);
  return opened;
}

function exists(file: string): Promise<boolean> {
  return access(file).then(
    () => true,
    () => false,
  );
}
