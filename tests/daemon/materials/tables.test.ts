import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hasCode, NightjarError, sentenceFor, type TableProblem } from '../../../daemon/errors/index.ts';
import { materialNamed, materialNames } from '../../../daemon/materials/known.ts';
import { parseCamera, parseLamp, parseMaterial, parseOxide, readTable } from '../../../daemon/materials/read.ts';
import { bandSensitivity, halogen, idealColourBands, indexAt, lampPower, layerCurve, materialIds, materials, spectralGrid } from '../../../planner/optics/index.ts';
import { sio2Malitson1965 } from '../../../planner/optics/tables/sio2Malitson1965.ts';

/** What is wrong with a text, as the parser says it. */
function problemsOf(parse: () => unknown): readonly TableProblem[] {
  try {
    parse();
  } catch (error) {
    if (hasCode(error, 'badTable')) return error.details.problems;
    throw error;
  }
  throw new Error('the table was taken as good');
}

const good = ['# my own ellipsometry', '# layer_thickness_nm: 0.7', 'wavelength_nm,n,k', '390,2.5,0.1', '# between rows', '500,2.4,0', '710,2.2,1e-3'];
const withLine = (at: number, line: string): string => good.map((old, i) => (i === at - 1 ? line : old)).join('\n');

describe('a material of one\'s own', () => {
  test('is read: comments, thickness, linear between its points', () => {
    const film = parseMaterial(good.join('\n'), 'folder/mine.csv');
    expect(film.layerThicknessNm).toBe(0.7);
    expect(film.table.name).toBe('mine');
    expect(indexAt(film.table, 445).n).toBeCloseTo(2.45, 9);
    expect(indexAt(film.table, 605).k).toBeCloseTo(0.0005, 9);
    expect(indexAt(film.table, 380)).toEqual({ n: 2.5, k: 0.1 });
  });
  test('may come from another system: byte order mark, CR LF, blanks, a name of its own', () => {
    const text = `\uFEFF# name: MoTe2\r\n${good.join('\r\n').replaceAll(',', ' , ')}\r\n\r\n`;
    expect(parseMaterial(text, 'x.csv')).toEqual({ ...parseMaterial(good.join('\n'), 'x.csv'), table: { ...parseMaterial(good.join('\n'), 'x.csv').table, name: 'MoTe2' } });
  });
  // Round trip against the planner's own tables.
  test.each(materialIds)('%s written out as a file gives the ladder of the table that is built in', (id) => {
    const { table, layerThicknessNm } = materials[id];
    const rows = spectralGrid(1).map((nm) => `${nm},${indexAt(table, nm).n},${indexAt(table, nm).k}`);
    const mine = parseMaterial([`# layer_thickness_nm: ${layerThicknessNm}`, 'wavelength_nm,n,k', ...rows].join('\n'), 'mine.csv');
    const view = { oxideNm: 285, numericalAperture: 0.3, lamp: halogen, bands: idealColourBands, layersMax: 4 };
    const own = layerCurve({ ...view, material: mine }).contrast.flat();
    layerCurve({ ...view, material: id }).contrast.flat().forEach((value, i) => expect(own[i]).toBeCloseTo(value, 9));
  });

  test.each([
    ['wavelengths that fall', withLine(6, '380,2.4,0'), 6, 'have to rise'],
    ['a wavelength twice', withLine(6, '390,2.4,0'), 6, 'have to rise'],
    ['gain', withLine(6, '500,2.4,-0.01'), 6, 'k -0.01 is outside'],
    ['an index of nothing', withLine(6, '500,0,0'), 6, 'n 0 is outside'],
    ['a word', withLine(6, '500,many,0'), 6, 'n is not a number: "many"'],
    ['no number', withLine(6, '500,NaN,0'), 6, 'n is not a number'],
    ['a number without end', withLine(6, '500,1e999,0'), 6, 'n Infinity is outside'],
    ['hexadecimals', withLine(6, '500,0x2,0'), 6, 'n is not a number'],
    ['an empty cell', withLine(6, '500,,0'), 6, 'n is not a number'],
    ['decimal commas', withLine(6, '500,2,4,0'), 6, '4 values where 3 are wanted'],
    ['semicolons', withLine(6, '500;2.4;0'), 6, '1 values where 3'],
    ['micrometres', good.join('\n').replace('390,', '0.39,').replace('500,', '0.5,').replace('710,', '0.71,'), 4, 'wavelength_nm 0.39 is outside'],
    ['too little of the violet', withLine(4, '401,2.5,0.1'), 0, '400 to 700 nm have to be covered'],
    ['too little of the red', withLine(7, '699.9,2.2,0'), 0, '400 to 700 nm have to be covered'],
    ['other columns', withLine(3, 'wavelength_um,n,k'), 3, 'has to be wavelength_nm,n,k'],
    ['nothing but comments', '# layer_thickness_nm: 0.7', 0, 'it is empty'],
    ['a head alone', 'wavelength_nm,n,k', 0, '400 to 700 nm'],
    ['no thickness', withLine(2, '# none'), 0, 'layer_thickness_nm: 0.34" is missing'],
    ['a thickness in metres', withLine(2, '# layer_thickness_nm: 7e-10'), 2, 'number from 0.1 to 100'],
    ['a thickness in words', withLine(2, '# layer_thickness_nm: thin'), 2, 'number from 0.1 to 100'],
  ])('is refused with its line for %s', (_what, text, line, reason) => {
    const problems = problemsOf(() => parseMaterial(text, 'mine.csv'));
    expect(problems[0]?.line).toBe(line);
    expect(problems[0]?.message).toContain(reason);
  });

  test('names the first ten problems and counts the rest', () => {
    const rows = Array.from({ length: 25 }, (_, i) => `${400 + i},x,0`);
    const problems = problemsOf(() => parseMaterial(['wavelength_nm,n,k', ...rows].join('\n'), 'mine.csv'));
    expect(problems).toHaveLength(11);
    expect(problems[10]).toEqual({ line: 0, message: '15 more of the kind' });
  });
  test('has 20 000 rows at most', () => {
    const rows = Array.from({ length: 20_001 }, (_, i) => `${300 + i / 20},2,0`);
    expect(problemsOf(() => parseOxide(['wavelength_nm,n,k', ...rows].join('\n'), 'o.csv'))[0]?.message).toContain('20001 rows');
  });
  test('never fails in another way, whatever the text', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string({ unit: 'binary' }), fc.array(fc.string()).map((lines) => [...good, ...lines].join('\n'))), (text) => {
        try {
          parseMaterial(text, 'f');
        } catch (error) {
          expect(error instanceof NightjarError && error.code === 'badTable').toBe(true);
        }
      }),
    );
  });
});

describe('other tables', () => {
  test('an oxide needs no thickness', () => {
    const rows = spectralGrid(5).map((nm) => `${nm},${indexAt(sio2Malitson1965, nm).n},0`);
    const oxide = parseOxide(['wavelength_nm,n,k', ...rows].join('\n'), 'thermal.csv');
    expect(indexAt(oxide, 550).n).toBeCloseTo(indexAt(sio2Malitson1965, 550).n, 9);
  });
  test('a camera has three channels or one, and sees nothing beyond its table', () => {
    const colour = parseCamera('wavelength_nm,red,green,blue\n400,0,0,1\n550,0,1,0\n700,1,0,0', 'c.csv');
    expect(colour.bands.map((band) => [400, 475, 550, 700, 710].map((nm) => bandSensitivity(band, nm)))).toEqual([
      [0, 0, 0, 1, 0],
      [0, 0.5, 1, 0, 0],
      [1, 0.5, 0, 0, 0],
    ]);
    expect(parseCamera('# grey camera\nwavelength_nm,grey\n400,1\n700,1', 'g.csv').bands).toHaveLength(1);
    expect(problemsOf(() => parseCamera('wavelength_nm,red,green,blue\n400,1,0,0\n700,1,0,0', 'c.csv')).map(({ message }) => message)).toEqual(['green is 0 everywhere', 'blue is 0 everywhere']);
  });
  test('a lamp', () => {
    expect(lampPower(parseLamp('wavelength_nm,power\n400,1\n700,4', 'l.csv'), 500)).toBeCloseTo(2, 9);
    expect(problemsOf(() => parseLamp('wavelength_nm,power\n400,0\n700,0', 'l.csv'))[0]?.message).toBe('power is 0 everywhere');
    expect(problemsOf(() => parseLamp('wavelength_nm,power\n400,-1\n700,0', 'l.csv'))[0]?.line).toBe(2);
  });
});

describe('files', () => {
  let folder = '';
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'nightjar-tables-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  test('one that is not there, a folder, and one that is too large are refused by name', async () => {
    await expect(readTable(join(folder, 'none.csv'), parseOxide)).rejects.toMatchObject({ code: 'noSuchFile' });
    await expect(readTable(folder, parseOxide)).rejects.toMatchObject({ code: 'unreadableFile' });
    const large = join(folder, 'large.csv');
    await writeFile(large, '#'.repeat(1_000_001));
    await expect(readTable(large, parseOxide)).rejects.toMatchObject({ code: 'badTable', details: { file: large } });
  });
  test('the sentence says file, line and reason, what happened to the rest, and what to do', async () => {
    const file = join(folder, 'mine.csv');
    await writeFile(file, withLine(6, '500,2.4,-1'));
    const error = await readTable(file, parseMaterial).catch((reason: unknown) => reason);
    const { sentence } = sentenceFor(error);
    expect(sentence).toContain(`The table ${file} has 1 error:\n  line 6: k -1 is outside 0 to 20\n`);
    expect(sentence).toMatch(/Nothing was computed\. Correct it, then try again\.$/);
  });
});

describe('a material by name', () => {
  test('is found as people write it', () => {
    for (const id of materialIds) expect(materialNamed(materialNames[id])).toBe(id);
  });
  test('is refused with the list of what there is', () => {
    expect(() => materialNamed('silicene')).toThrow(expect.objectContaining({ code: 'unknownMaterial', details: { material: 'silicene', known: materialIds } }));
    expect(sentenceFor(new NightjarError('unknownMaterial', { material: 'silicene', known: materialIds })).sentence).toContain('There is: graphene, graphite, hbn, mos2, ws2, mose2, wse2, nbse2');
  });
});
