import { checkFile } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import type { AddCommand } from './context.ts';

const kindWords = { instrument: 'an instrument file', runSheet: 'a run sheet', people: 'a list of people to tell' } as const;

/** `nightjar check FILE`: reads one of the files that people write and says whether it is in order. */
export const checkCommand: AddCommand = (program, context, done) => {
  program
    .command('check')
    .description('read an instrument file, a run sheet or a list of people to tell, and name everything that is wrong in it, with its line')
    .argument('<file>', 'a YAML file')
    .option('--json', 'print the file as it is understood, with every default filled in')
    .action(async (file: string, options: { json?: boolean }) => {
      const source = await readSource(file);
      const checked = checkFile(source.text, file);
      if (options.json) context.output.write(`${JSON.stringify(checked, null, 2)}\n`);
      else context.output.write(`${file}: ${kindWords[checked.kind]}, in order.\n`);
      done(0);
    });
};
