import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { systemSecrets } from '../server/systemSecrets.ts';
import type { CommandContext } from './context.ts';
import { runProgram } from './program.ts';

function processContext(): CommandContext {
  return {
    clock: createSystemClock(),
    secrets: systemSecrets,
    output: { isTerminal: process.stdout.isTTY === true, columns: process.stdout.columns ?? 100, write: (text) => void process.stdout.write(text) },
    errors: { isTerminal: process.stderr.isTTY === true, columns: process.stderr.columns ?? 100, write: (text) => void process.stderr.write(text) },
    interrupted: interruption(),
  };
}

/** Aborted by the first Ctrl-C or `kill`; the second one ends the process at once. */
function interruption(): AbortSignal {
  const controller = new AbortController();
  const interrupt = (): void => {
    if (controller.signal.aborted) process.exit(130);
    controller.abort();
  };
  process.on('SIGINT', interrupt);
  process.on('SIGTERM', interrupt);
  return controller.signal;
}

process.exitCode = await runProgram(process.argv.slice(2), processContext());
