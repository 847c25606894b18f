import { createInterface } from 'node:readline/promises';
import type { CommandContext } from './context.ts';

/** Puts a question that only a plain yes answers with yes. */
export type Ask = (question: string) => Promise<boolean>;

/** For `--yes`: the question is shown, and answered. */
export function alwaysYes(tell: (text: string) => void): Ask {
  return async (question) => {
    tell(`\n${question} Yes, by --yes.`);
    return true;
  };
}

/** Where nobody sits at the terminal, nothing is moved. */
export function atTerminal({ output, interrupted }: Pick<CommandContext, 'output' | 'interrupted'>): Ask {
  return async (question) => {
    if (process.stdin.isTTY !== true) {
      output.write(`\n${question} Not without a terminal to ask at, or --yes.\n`);
      return false;
    }
    const asking = createInterface({ input: process.stdin, output: process.stdout });
    // While it asks, readline keeps Ctrl-C and Ctrl-D to itself: the one is passed on, the other is no answer.
    asking.once('SIGINT', () => process.kill(process.pid, 'SIGINT'));
    const ended = new Promise<string>((resolve) => {
      asking.once('close', () => resolve(''));
    });
    try {
      const answer = await Promise.race([asking.question(`\n${question} [y/N] `, { signal: interrupted }), ended]);
      return /^y(es)?$/i.test(answer.trim());
    } finally {
      asking.close();
    }
  };
}
