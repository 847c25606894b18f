import { resolve } from 'node:path';
import { constancyOf } from '../constancy/line.ts';
import { NightjarError } from '../errors/index.ts';
import { openRecords } from '../records/index.ts';
import type { AddCommand, CommandContext } from './context.ts';

interface DriftOptions {
  readonly data: string;
  readonly night?: string;
  readonly json?: boolean;
}

const nothing = 'There is nothing to tell: the night went to no known flake (knownFlake in the instrument file), and no flake was judged twice.';

/** `nightjar drift`: how steady the instrument and those who judge are, in one line. */
export const driftCommand: AddCommand = (program, context, done) => {
  program
    .command('drift')
    .description('how the known flake of the latest night stands against earlier nights, and how people agree with themselves; one line')
    .option('-d, --data <folder>', 'where the records are kept', 'nightjar-data')
    .option('--night <id>', 'another night than the latest, by its id')
    .option('--json', 'every figure as JSON')
    .action((options: DriftOptions) => {
      tell(context, options);
      done(0);
    });
};

function tell({ output }: CommandContext, options: DriftOptions): void {
  const records = openRecords(resolve(options.data), { readOnly: true });
  try {
    const run = options.night === undefined ? records.latestRun() : records.run(options.night);
    if (!run) throw options.night === undefined ? new NightjarError('noRun', {}) : new NightjarError('noSuchRun', { runId: options.night });
    const constancy = constancyOf(records, run.id);
    output.write(options.json ? `${JSON.stringify({ runId: run.id, title: run.title, ...constancy }, null, 2)}\n` : `${constancy.line || nothing}\n`);
  } finally {
    records.close();
  }
}
