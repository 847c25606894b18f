import { stateFolder } from '../stateFolder.ts';
import { makeTokenFile, readTokenFile, tokenFile } from '../server/tokenFile.ts';
import type { AddCommand, CommandContext } from './context.ts';

/** `nightjar token`: the word with which others are let in. */
export const tokenCommand: AddCommand = (program, context, done) => {
  program
    .command('token')
    .description('make the token with which other computers are let in, and print it this once')
    .option('--new', 'put a new one in place of the one there is; everybody who was let in has to give the new one')
    .action(async (options: { readonly new?: boolean }) => {
      done(await token(context, options.new === true));
    });
};

async function token(context: CommandContext, isNew: boolean): Promise<number> {
  const file = tokenFile(stateFolder(process.env));
  const before = isNew ? undefined : await readTokenFile(file);
  if (before) {
    const made = new Date(before.madeAtMs).toISOString().slice(0, 10);
    context.output.write(`There is a token already, made on ${made}. Only its digest is kept, so it cannot be shown again.\nIf it is lost or got about: nightjar token --new\n`);
    return 0;
  }
  await printNewToken(context, file);
  return 0;
}

/** Makes a token and prints it: on the terminal only, never in the log. */
export async function printNewToken(context: CommandContext, file: string): Promise<void> {
  const made = await makeTokenFile(file, context.secrets, context.clock.now());
  context.output.write(`The token, shown this once:\n\n    ${made}\n\nWhoever has it can move the instrument. Give it by hand, not by mail. \`nightjar token --new\` replaces it.\n\n`);
}
