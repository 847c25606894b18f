import { resolve } from 'node:path';
import { verifyFolder } from '../records/check/verify.ts';
import type { AddCommand, CommandContext } from './context.ts';
import { verifyText } from './verifyText.ts';

interface VerifyOptions {
  readonly deep?: boolean;
  readonly json?: boolean;
}

const explanation = `
Reads every row of the database and every byte of every picture that the records name, and holds them against each other and against the plan.
It changes nothing, and may be used while a night runs: what is recorded by then is checked, and files that no record names yet are left out.

Exit code: 0 sound, 1 not sound, 2 when there is nothing to check.`;

/** `nightjar verify DATA_DIR`: whether everything that was recorded is there, whole and unchanged. */
export const verifyCommand: AddCommand = (program, context, done) => {
  program
    .command('verify')
    .description('check everything in a data folder against its records: rows, plan, and every byte of every picture')
    .argument('<folder>', 'a data folder')
    .option('--deep', 'decode every picture as well (slower)')
    .option('--json', 'print it as JSON')
    .addHelpText('after', explanation)
    .action(async (folder: string, options: VerifyOptions) => {
      done(await verify(context, folder, options));
    });
};

async function verify({ output }: CommandContext, folder: string, { deep, json }: VerifyOptions): Promise<number> {
  const report = await verifyFolder(resolve(folder), { deep: deep === true });
  output.write(`${json ? JSON.stringify(report, null, 2) : verifyText(folder, report, deep === true)}\n`);
  return report.sound ? 0 : 1;
}
