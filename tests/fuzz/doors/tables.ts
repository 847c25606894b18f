import fc from 'fast-check';
import { parseCamera, parseLamp, parseMaterial, parseOxide } from '../../../daemon/materials/read.ts';
import { anyText, oddNumber, oddText } from '../hostile.ts';
import { answerOf, each, hold, trial, type Door } from '../law.ts';
import { beginningsOf, mutatedText } from '../mutate.ts';

const rows = (columns: (nm: number) => readonly number[]): string => [380, 450, 520, 590, 660, 730, 790].map((nm) => [nm, ...columns(nm)].join(',')).join('\n');
const samples = {
  material: `# name: invented\n# layer_thickness_nm: 0.65\nwavelength_nm,n,k\n${rows(() => [4.5, 1.2])}\n`,
  oxide: `wavelength_nm,n,k\n${rows(() => [1.46, 0])}\n`,
  camera: `wavelength_nm,red,green,blue\n${rows((nm) => [nm > 600 ? 1 : 0.1, 0.5, 0.2])}\n`,
  grey: `wavelength_nm,grey\n${rows(() => [1])}\n`,
  lamp: `wavelength_nm,power\n${rows((nm) => [nm / 800])}\n`,
};
const sample = fc.constantFrom(...Object.values(samples));
const parsers = [parseMaterial, parseOxide, parseCamera, parseLamp] as const;

const cell = fc.oneof(oddNumber.map(String), fc.constantFrom('1e400', '-1e400', '1e-400', '0x1F', '1,2', '"1"', '١', '1_0', '+', '.', 'e5', '1e5e5', '1\u00a0', ' ', '\t'));
const tablePiece = fc.oneof(cell, oddText, fc.constantFrom('\n', ',', ',,', '#', '# name: ', '# layer_thickness_nm: NaN\n', '\r', '700,1,1\n', '1\n'.repeat(3000), '# a: b\n'.repeat(3000), `${'9'.repeat(400)},1,1\n`));

function finite(value: unknown): boolean {
  if (typeof value === 'number') return Number.isFinite(value);
  return value === null || typeof value !== 'object' || Object.values(value).every(finite);
}

async function read(text: string): Promise<void> {
  for (const parser of parsers) {
    const table = await answerOf(() => parser(text, 'own.csv'), ['own.csv']);
    if (table) hold(finite(table), 'every figure of a table is finite');
  }
}

export const tables: Door = {
  name: 'tables',
  trials: [
    trial('any text', anyText, read, 2),
    trial('a table with something wrong in it', sample.chain((text) => mutatedText(text, tablePiece)), read, 3),
    each('a table cut off anywhere', beginningsOf(samples.material), read),
    trial('odd cells', fc.array(fc.array(cell, { minLength: 1, maxLength: 4 }), { maxLength: 30 }).map((all) => `# layer_thickness_nm: 0.3\nwavelength_nm,n,k\n${all.map((cells) => cells.join(',')).join('\n')}`), read),
  ],
};
