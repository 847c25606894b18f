import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { pointFrom } from '../../../daemon/cli/point.ts';
import { runProgram } from '../../../daemon/cli/program.ts';
import { portFrom } from '../../../daemon/cli/serve.ts';
import { workersFrom } from '../../../daemon/cli/scan.ts';
import { lineFrom } from '../../../daemon/describe/lineFrom.ts';
import { barFrom } from '../../../daemon/cli/bar.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { instrumentText, runSheetText } from '../../daemon/config/samples.ts';
import { contentOf, inFolder } from '../folder.ts';
import { oddNumber, oddText } from '../hostile.ts';
import { answerOf, hold, isFit, trial, type Door } from '../law.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';

const figure = fc.oneof(oddNumber.map(String), fc.double().map(String), fc.constantFrom('1e400', '0x10', '1_0', ' 1', '1 ', '٣', '1,', ',1', '1,2,3', '1=2', '9'.repeat(400), '1-4', '4-1', '0-6', '590/40', '1/0', '20x5', '0x0'), oddText);
const word = fc.tuple(figure, fc.constantFrom('', ',', '=', ',1=', '@', ':', '-', 'x', '/'), figure).map((parts) => parts.join(''));
const readers = [
  (text: string) => pointFrom('--at', text), (text: string) => portFrom(text), (text: string) => workersFrom(text), (text: string) => barFrom(text), (text: string) => lineFrom(text),
] as const;

async function readWord(text: string): Promise<void> {
  for (const read of readers) {
    const value = await answerOf<unknown>(() => read(text));
    const numbers = value !== null && typeof value === 'object' ? Object.values(value).filter((each) => typeof each === 'number') : [value ?? 0];
    hold(numbers.every(Number.isFinite), 'every number read is one');
  }
}

// Only what reads: nothing here may open an instrument, a port or a page, or write a file.
const options = ['--oxide', '--na', '--lamp', '--camera', '--filter', '--layers', '--noise', '--unevenness', '--area-um2', '--pixel-um', '--material-file', '--oxide-file', '--json', '--instrument', '--thickness', '--bar', '--workers', '-h', '--version', '--'] as const;
const argument = fc.oneof(word, fc.constantFrom('graphene', 'hBN', 'tonight.yaml', 'instrument.yaml', 'nothing.yaml', '.', 'folder', '/dev/zero', '', '-', '290', '0.3', 'halogen', 'rgb'));
const words = fc.tuple(
  fc.constantFrom('contrast', 'check', 'plan', 'classify', 'describe', 'nonsense', '__proto__', ''),
  fc.array(fc.oneof(argument, fc.tuple(fc.constantFrom(...options), argument).map(([option, value]) => `${option}\n${value}`)), { maxLength: 6 }),
).map(([command, more]) => [command, ...more.flatMap((text) => (text.startsWith('--') ? text.split('\n') : [text]))]);

/** A whole command: ends with one of the exit codes, in words that are fit to be shown, and writes nothing. */
async function command(all: readonly string[]): Promise<void> {
  await inFolder(async (folder) => {
    mkdirSync(join(folder, 'folder'));
    writeFileSync(join(folder, 'instrument.yaml'), instrumentText);
    writeFileSync(join(folder, 'tonight.yaml'), runSheetText);
    const before = contentOf(folder);
    const said: string[] = [];
    const writer = { isTerminal: false, columns: 100, write: (text: string) => void said.push(text) };
    const placed = all.map((each) => (['tonight.yaml', 'instrument.yaml', 'nothing.yaml', 'folder'].includes(each) ? join(folder, each) : each));
    const code = await runProgram(placed, { clock: createSystemClock(), secrets: systemSecrets, output: writer, errors: writer, interrupted: new AbortController().signal });
    const text = said.join('');
    hold([0, 1, 2].includes(code), `exit code ${code}: ${text.slice(0, 300)}`);
    hold(!/in Nightjar itself|Cannot read propert|is not a function|RangeError|TypeError/.test(text), `an error of our own: ${text.slice(0, 500)}`);
    hold(isFit(text), `what is said is fit to be shown: ${JSON.stringify(text.slice(0, 300))}`);
    hold(contentOf(folder) === before, 'nothing is written');
  });
}

export const commandLine: Door = {
  name: 'command line',
  trials: [trial('a word', word, readWord, 4), trial('a command', words, command, 0.6)],
};
