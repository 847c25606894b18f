import { checkFile } from '../config/load.ts';
import { readSource } from '../config/readSource.ts';
import type { AddCommand } from './context.ts';

/** `nightjar check FILE`: reads an instrument file or a run sheet and says whether it is in order. */
export const checkCommand: AddCommand = (program, context, done) => {
  program
    .command('check')
    .description('read an instrument file or a run sheet and name everything that is wrong in it, with its line')
    .argument('<file>', 'a YAML file')
    .option('--json', 'print the file as it is understood, with every default filled in')
    .action(async (file: string, options: { json?: boolean }) => {
      const source = await readSource(file);
      const checked = checkFile(source.text, file);
      if (options.json) context.output.write(`${JSON.stringify(checked, null, 2)}\n`);
      else context.output.write(`${file}: ${checked.kind === 'instrument' ? 'an instrument file' : 'a run sheet'}, in order.\n`);
      done(0);
    });
};
