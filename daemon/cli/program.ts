import { Command, CommanderError } from 'commander';
import { exitCodeFor, sentenceFor } from '../errors/index.ts';
import { calibrateCommand } from './calibrate.ts';
import { checkCommand } from './check.ts';
import { classifyCommand } from './classify.ts';
import { contrastCommand } from './contrast.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { demoCommand } from './demo.ts';
import { describeCommand } from './describe.ts';
import { doctorCommand } from './doctor.ts';
import { driftCommand } from './drift.ts';
import { homeCommand } from './home.ts';
import { instrumentsCommand } from './instruments.ts';
import { noticeCommand } from './notice.ts';
import { planCommand } from './plan.ts';
import { preflightCommand } from './preflight.ts';
import { rehearseCommand } from './rehearse.ts';
import { remountCommand } from './remount.ts';
import { scanCommand } from './scan.ts';
import { serveCommand } from './serve.ts';
import { tellCommand } from './tell.ts';
import { tokenCommand } from './token.ts';
import { verifyCommand } from './verify.ts';

/** In the order in which the help lists them. */
const commands: readonly AddCommand[] = [
  serveCommand,
  planCommand,
  preflightCommand,
  rehearseCommand,
  scanCommand,
  classifyCommand,
  contrastCommand,
  checkCommand,
  calibrateCommand,
  remountCommand,
  verifyCommand,
  driftCommand,
  instrumentsCommand,
  doctorCommand,
  describeCommand,
  homeCommand,
  noticeCommand,
  tellCommand,
  tokenCommand,
  demoCommand,
];

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
  for (const add of commands) add(program, context, done);
  try {
    await program.parseAsync(argv, { from: 'user' });
    return exitCode;
  } catch (error) {
    if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
    context.errors.write(`${sentenceFor(error).sentence}\n`);
    return exitCodeFor(error);
  }
}
