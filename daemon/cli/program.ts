import { Command, CommanderError } from 'commander';
import { exitCodeFor, sentenceFor } from '../errors/index.ts';
import type { AddCommand, CommandContext } from './context.ts';

/** In the order in which the help lists them. Each is loaded when it is asked for: together they take a second. */
const commands: Readonly<Record<string, () => Promise<AddCommand>>> = {
  serve: async () => (await import('./serve.ts')).serveCommand,
  plan: async () => (await import('./plan.ts')).planCommand,
  preflight: async () => (await import('./preflight.ts')).preflightCommand,
  rehearse: async () => (await import('./rehearse.ts')).rehearseCommand,
  scan: async () => (await import('./scan.ts')).scanCommand,
  classify: async () => (await import('./classify.ts')).classifyCommand,
  contrast: async () => (await import('./contrast.ts')).contrastCommand,
  check: async () => (await import('./check.ts')).checkCommand,
  calibrate: async () => (await import('./calibrate.ts')).calibrateCommand,
  remount: async () => (await import('./remount.ts')).remountCommand,
  verify: async () => (await import('./verify.ts')).verifyCommand,
  drift: async () => (await import('./drift.ts')).driftCommand,
  instruments: async () => (await import('./instruments.ts')).instrumentsCommand,
  doctor: async () => (await import('./doctor.ts')).doctorCommand,
  describe: async () => (await import('./describe.ts')).describeCommand,
  home: async () => (await import('./home.ts')).homeCommand,
  notice: async () => (await import('./notice.ts')).noticeCommand,
  tell: async () => (await import('./tell.ts')).tellCommand,
  token: async () => (await import('./token.ts')).tokenCommand,
  demo: async () => (await import('./demo.ts')).demoCommand,
};

/** The command that the first word names; all of them for the help, and to tell which a mistyped word is nearest to. */
function wanted([name = '']: readonly string[]): Promise<readonly AddCommand[]> {
  const one = Object.hasOwn(commands, name) ? commands[name] : undefined;
  return Promise.all(one ? [one()] : Object.values(commands).map((load) => load()));
}

/** The command line: words in, one of the commands run, an exit code out. */
export async function runProgram(argv: readonly string[], context: CommandContext): Promise<number> {
  const program = new Command('nightjar')
    .description('Finds atomically thin flakes on exfoliated chips overnight and takes you back to each one in the morning.')
    .version('0.1.0')
    .showHelpAfterError('Add --help to see what there is.')
    .exitOverride()
    .configureOutput({ writeOut: (text) => context.output.write(text), writeErr: (text) => context.errors.write(text) })
    .addHelpText(
      'after',
      '\nExit codes: 0 done, 1 failed, 2 wrong input, 3 stopped safely with what was done kept, 130 interrupted.' +
        '\nStopping from here or from the page asks the controllers to halt. It is not a safety device: use the switch at the instrument.',
    );
  let exitCode = 0;
  const done = (code: number): void => {
    exitCode = code;
  };
  for (const add of await wanted(argv)) add(program, context, done);
  try {
    await program.parseAsync(argv, { from: 'user' });
    return exitCode;
  } catch (error) {
    if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
    context.errors.write(`${sentenceFor(error).sentence}\n`);
    return exitCodeFor(error);
  }
}
