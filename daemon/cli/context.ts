import type { Command } from 'commander';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { Secrets } from '../server/secrets.ts';
import type { Output } from './progressBar.ts';

/** What a command may touch of the process that it runs in. */
export interface CommandContext {
  /** Real time, whatever clock the instrument runs on. */
  readonly clock: Clock;
  /** For tokens and sessions; nothing that a seed must replay. */
  readonly secrets: Secrets;
  readonly output: Output;
  readonly errors: Output;
  /** Aborted when the person asks for an end (Ctrl-C). */
  readonly interrupted: AbortSignal;
}

/** Adds one command to the program; `done` is told its exit code. */
export type AddCommand = (program: Command, context: CommandContext, done: (exitCode: number) => void) => void;
