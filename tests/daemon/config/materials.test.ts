import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { materialOf, soughtOn } from '../../../daemon/config/chipMaterial.ts';
import { parseRunSheet } from '../../../daemon/config/load.ts';
import { readSource } from '../../../daemon/config/readSource.ts';
import { hasCode } from '../../../daemon/errors/index.ts';
import type { ConfigProblem } from '../../../daemon/errors/index.ts';
import { readTable, parseMaterial } from '../../../daemon/materials/read.ts';
import { problemsOf, runSheetText } from './samples.ts';

/** Protects: a material of a person's own goes with the run sheet, and what has no data is refused at the door. */
const table = `# name: silicene
# layer_thickness_nm: 0.31
wavelength_nm,n,k
400,3.1,0.4
550,3.3,0.2
700,3.2,0.1
`;

let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'nightjar-materials-'));
});
afterAll(async () => {
  await rm(folder, { recursive: true });
});

async function read(sheet: string, tables: Readonly<Record<string, string>> = {}): Promise<{ readonly text: string; readonly file: string }> {
  for (const [name, text] of Object.entries(tables)) await writeFile(join(folder, name), text);
  const file = join(folder, 'sheet.yaml');
  await writeFile(file, sheet);
  return readSource(file);
}

async function refused(sheet: string, tables: Readonly<Record<string, string>> = {}): Promise<readonly ConfigProblem[]> {
  const end = await read(sheet, tables).then(({ text, file }) => problemsOf(() => parseRunSheet(text, file)), (error: unknown) => error);
  return hasCode(end, 'badConfig') ? end.details.problems : (end as readonly ConfigProblem[]);
}

const own = (place: string): string => runSheetText.replace('material: graphene', `material: silicene\n    materialTable: ${place}`);

describe('a material of one\'s own', () => {
  it('is read from the table beside the run sheet, and stays with the sheet when the file is gone', async () => {
    const { text, file } = await read(own('silicene.csv'), { 'silicene.csv': table });
    await rm(join(folder, 'silicene.csv'));
    const [chip, other] = parseRunSheet(text, file).chips;
    if (!chip || !other) throw new Error('two chips');
    expect(chip.material).toBe('silicene');
    expect(materialOf(chip)).toEqual(parseMaterial(table, 'the table in the run sheet'));
    expect(materialOf(other)).toBe('hbn');
    expect(text.split('\n')).toHaveLength(own('silicene.csv').split('\n').length);
  });

  it('gives the ladder of the same table in a file', async () => {
    const { text, file } = await read(own('"silicene.csv"  # of our own'), { 'silicene.csv': table });
    const film = materialOf(parseRunSheet(text, file).chips[0] ?? { material: '' });
    expect(film).toEqual(await readTable(join(folder, 'silicene.csv'), parseMaterial));
    expect(text).toContain('# of our own');
  });

  it('stands in mappings on one line as well, and for several chips', async () => {
    const two = own('silicene.csv').replace('material: hbn', 'material: other\n    materialTable: other.csv');
    const { text, file } = await read(two, { 'silicene.csv': table, 'other.csv': table.replace('0.31', '0.62') });
    const films = parseRunSheet(text, file).chips.map(materialOf);
    expect(films.map((film) => (typeof film === 'string' ? 0 : film.layerThicknessNm))).toEqual([0.31, 0.62]);
    const flow = runSheetText.replace(/ {2}- name: K-07[\s\S]*?oxideNm: 290/, '  - { name: K-07, outline: { circle: { centreUm: [9000, 8000], radiusUm: 1500 } }, material: own, materialTable: silicene.csv, oxideNm: 290 }');
    expect(parseRunSheet((await read(flow)).text, file).chips[0]?.materialTable).toBe(table);
  });

  it('may stand in the run sheet itself', () => {
    const block = `|\n${table.split('\n').map((line) => `      ${line}`).join('\n')}`;
    expect(materialOf(parseRunSheet(own(block), 's').chips[0] ?? { material: '' })).toMatchObject({ layerThicknessNm: 0.31 });
  });
});

describe('what has no data', () => {
  it.each([
    ['a missing file', 'nowhere.csv', {}, /nowhere\.csv: there is no file .*nowhere\.csv/],
    ['a wrong table', 'bad.csv', { 'bad.csv': table.replace('550,3.3', '550,many') }, /bad\.csv: line 5 of the table: n is not a number: "many"/],
    ['a table without the thickness of a layer', 'thin.csv', { 'thin.csv': table.replace(/# layer.*\n/, '') }, /thin\.csv: .*layer_thickness_nm/],
  ])('%s is refused with the run sheet\'s line', async (_what, name, tables, message) => {
    expect(await refused(own(name), tables)).toEqual([{ line: 8, key: 'materialTable', message: expect.stringMatching(message) as string }]);
  });

  it('a name alone is refused with the list of what there is', async () => {
    expect(await refused(runSheetText.replace('material: graphene', 'material: silicene'))).toEqual([
      { line: 7, key: 'chips[0].material', message: expect.stringMatching(/^must be one of graphene, graphite, hbn, .*, not "silicene"; .*materialTable/) as string },
    ]);
  });

  it('a path in a sheet that came without a file says what to do', () => {
    expect(problemsOf(() => parseRunSheet(own('silicene.csv'), 'from the page'))).toEqual([{ line: 8, key: 'chips[0].materialTable', message: expect.stringContaining('put the table\'s lines here') as string }]);
  });

  it('a wrong table in the sheet is refused with both lines', () => {
    const [problem, ...others] = problemsOf(() => parseRunSheet(own(JSON.stringify(table.replace('550,3.3', '550,40'))), 's'));
    expect(others).toEqual([]);
    expect(problem).toMatchObject({ line: 8, message: expect.stringContaining('line 5 of the table: n 40 is outside') as string });
  });

  it('a sheet that is no YAML comes back as it is', async () => {
    const broken = `${own('nowhere.csv')}\nchips: [`;
    expect((await read(broken)).text).toBe(broken);
  });
});

describe('a thickness that is looked for', () => {
  const thick = `${runSheetText}lookFor: { thicknessNm: [8, 23], leastUsableUm: 6 }\n`;

  it('holds for the chips that are measured by thickness', () => {
    expect(soughtOn(parseRunSheet(thick, 's'), 'K-08')).toEqual({ material: 'hbn', oxideNm: 90, layersFrom: 1, layersTo: 4, thicknessFromNm: 8, thicknessToNm: 23, leastUsableUm: 6 });
    expect(soughtOn(parseRunSheet(runSheetText, 's'), 'K-07')).toEqual({ material: 'graphene', oxideNm: 290, layersFrom: 1, layersTo: 4, leastUsableUm: 4 });
    expect(() => parseRunSheet(thick.replace('material: hbn', 'material: graphite'), 's')).not.toThrow();
  });

  it('is an error where none is', () => {
    const text = thick.replace('material: hbn', 'material: mos2');
    expect(problemsOf(() => parseRunSheet(text, 's'))).toEqual([
      { line: 14, key: 'lookFor.thicknessNm', message: expect.stringMatching(/^is for chips .*\(graphite, hbn\), and there is none; take it out/) as string },
    ]);
  });
});
