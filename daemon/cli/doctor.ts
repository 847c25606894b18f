import { resolve } from 'node:path';
import { sourceFile } from '../builtFile.ts';
import { parseInstrument, readSource } from '../config/index.ts';
import { examine, isFit } from '../doctor/examine.ts';
import { reportJson, reportText } from '../doctor/report.ts';
import { createSystemSurroundings } from '../doctor/systemSurroundings.ts';
import { createSystemFinder } from '../instruments/systemFinder.ts';
import type { AddCommand, CommandContext } from './context.ts';

interface DoctorOptions {
  readonly data: string;
  readonly json?: boolean;
}

const explanation = `
Looks at rights, serial ports and who holds them, network, libraries, disk, memory, clock and sleep, and says how to mend what is amiss.
It changes nothing, opens no port and moves nothing. Run it as the user that Nightjar runs as. Whether the devices of an instrument file
are there is told by \`nightjar instruments\`.

Exit code: 0 when nothing must be mended, else 1.`;

/** `nightjar doctor`: whether this computer is fit for a night, and how to mend what is not. */
export const doctorCommand: AddCommand = (program, context, done) => {
  program
    .command('doctor')
    .description('check that this computer is fit for a night (rights, ports, network, libraries, disk, clock, sleep), and say how to mend it')
    .argument('[instrument]', 'an instrument file (YAML): its ports and its camera are looked at too')
    .option('-d, --data <folder>', 'where the records are kept', 'nightjar-data')
    .option('--json', 'print it as JSON')
    .addHelpText('after', explanation)
    .action(async (file: string | undefined, options: DoctorOptions) => {
      done(await doctor(context, file, options));
    });
};

async function doctor({ clock, output }: CommandContext, file: string | undefined, { data, json }: DoctorOptions): Promise<number> {
  const source = file === undefined ? undefined : await readSource(file);
  const instrument = source && parseInstrument(source.text, source.file);
  const patient = { instrument, dataFolder: resolve(data), packageFile: sourceFile('package.json') };
  const findings = await examine(patient, createSystemSurroundings(clock), createSystemFinder(clock));
  output.write(`${json ? reportJson(findings) : reportText(findings, instrument !== undefined)}\n`);
  return isFit(findings) ? 0 : 1;
}
