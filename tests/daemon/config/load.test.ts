import { describe, expect, it } from 'vitest';
import fc from 'fast-check';
import { checkFile, checkTogether, parseInstrument, parseRunSheet } from '../../../daemon/config/load.ts';
import { readSource } from '../../../daemon/config/readSource.ts';
import { hasCode, sentenceFor } from '../../../daemon/errors/index.ts';
import { instrumentText, problemsOf, runSheetText } from './samples.ts';

const ofInstrument = (from: string | RegExp, to: string) => problemsOf(() => parseInstrument(instrumentText.replace(from, to), 'instrument.yaml'));
const ofRunSheet = (from: string | RegExp, to: string) => problemsOf(() => parseRunSheet(runSheetText.replace(from, to), 'sheet.yaml'));

describe('reading what people wrote', () => {
  it('reads both files and fills in what may be left out', () => {
    const instrument = parseInstrument(instrumentText, 'instrument.yaml');
    const runSheet = parseRunSheet(runSheetText, 'sheet.yaml');
    expect(instrument.limits.maxLowTravelUm).toBe(3000);
    expect(instrument.objectives['50x']?.parcentricXUm).toBe(-3);
    expect(runSheet.overlap).toBe(0.1);
    expect(runSheet.chips.map((chip) => chip.edgeMarginUm)).toEqual([300, 300]);
    expect(runSheet.lookFor.layers).toEqual([1, 4]);
    checkTogether(runSheet, instrument);
  });

  it('tells which file it was given', () => {
    expect(checkFile(instrumentText, 'a.yaml').kind).toBe('instrument');
    expect(checkFile(runSheetText, 'b.yaml').kind).toBe('runSheet');
    expect(problemsOf(() => checkFile('colour: red\n', 'c.yaml'))).toEqual([{ line: 1, key: '', message: expect.stringMatching(/neither an instrument .* nor a run sheet .* nor a list of people/) }]);
    expect(problemsOf(() => checkFile(runSheetText.replace('overlap', 'overlapp').replace('title', 'titel'), 'b.yaml'))).toContainEqual(
      expect.objectContaining({ key: 'titel', line: 1 }),
    );
  });
});

describe('a wrong key, type or bound', () => {
  it.each([
    ['  xMinUm: 0', '  xMin: 0', 3, 'limits.xMin', 'xMinUm'],
    ['stage: { driver: simulated, settleMs: 50 }', 'stage: { driver: simulated, speed: 5 }', 10, 'stage.speed', 'maxSpeedUmPerS'],
    ['    exposureMs: 8', '    exposure: 8', 27, 'opticalPaths.search.exposure', 'exposureMs'],
    ['simulator: { seed: 7 }', 'simulatr: { seed: 7 }', 33, 'simulatr', 'simulator'],
    ['turretPosition: 0 }', 'turretPositon: 0 }', 20, 'objectives.10x.turretPositon', 'turretPosition'],
  ])('names line, key and the nearest valid key: %s', (from, to, line, key, near) => {
    const problem = ofInstrument(from, to).find((each) => each.key === key);
    expect(problem?.line).toBe(line);
    expect(problem?.message).toContain(`the nearest valid key is "${near}"`);
  });

  it.each([
    ['overlap', 'opticalPath: search', 'opticalPath: search\noverlap: 0.7', 4, 'overlap', 'must be at most 0.5, not 0.7'],
    ['overlap as text', 'opticalPath: search', 'opticalPath: search\noverlap: much', 4, 'overlap', 'must be a number, not "much"'],
    ['material', 'material: graphene', 'material: grafene', 7, 'chips[0].material', 'must be one of graphene, graphite, hbn, mos2, ws2, mose2, wse2, nbse2, not "grafene"; for any other give its table of n and k as materialTable'],
    ['width', 'widthUm: 3000', 'widthUm: 0', 6, 'chips[0].outline.rectangle.widthUm', 'must be at least 0.001, not 0 (in um)'],
    ['corner', '[33000, 15000]', '[33000]', 11, 'chips[1].outline.polygon[1]', 'must have at least 2 items, not a list of 1 ([x, y] in stage um)'],
    ['few corners', ', [31500, 18000]', '', 11, 'chips[1].outline.polygon', 'must have at least 3 items, not a list of 2'],
    ['initials', 'initials: r.d.', 'initials: 12', 2, 'operator.initials', 'must be a text, not 12; put it in quotes'],
    ['missing', '    oxideNm: 290\n', '', 5, 'chips[0].oxideNm', 'missing; must be a number (what the wafer box says)'],
    ['infinite', 'oxideNm: 290', 'oxideNm: .inf', 8, 'chips[0].oxideNm', 'must be a number, not Infinity (what the wafer box says)'],
  ])('names the allowed type or bound: %s', (_what, from, to, line, key, message) => {
    expect(ofRunSheet(from, to)).toEqual([{ line, key, message }]);
  });

  it.each([
    ['outline: { oval: 3 }', 'chips[0].outline.oval', 'unknown key "oval"'],
    ['outline: {}', 'chips[0].outline', 'must have exactly one of rectangle, polygon, circle'],
    ['outline: { circle: { centreUm: [1, 2], radiusUm: 3 }, polygon: [] }', 'chips[0].outline', 'not circle and polygon'],
    ['outline: round', 'chips[0].outline', 'must be a mapping with one of rectangle, polygon, circle, not "round"'],
    ['outline: { circle: { centreUm: [1, 2], radius: 3 } }', 'chips[0].outline.circle.radius', 'the nearest valid key is "radiusUm"'],
  ])('knows the choice of outlines: %s', (outline, key, part) => {
    const problem = ofRunSheet(/outline: \{ rectangle.*/, outline).find((each) => each.key === key);
    expect(problem).toMatchObject({ line: 6 });
    expect(problem?.message).toContain(part);
  });

  it('says all at once, in order of lines', () => {
    const text = instrumentText.replace('xMaxUm: 75000', 'xMaxUm: wide').replace('seed: 7', 'seed: -1').replace('magnification: 10,', '');
    const problems = problemsOf(() => parseInstrument(text, 'instrument.yaml'));
    expect(problems.map((each) => [each.line, each.key])).toEqual([
      [4, 'limits.xMaxUm'],
      [20, 'objectives.10x.magnification'],
      [33, 'simulator.seed'],
    ]);
  });
});

describe('settings that do not fit one another', () => {
  it.each([
    ['xMaxUm: 75000', 'xMaxUm: -5', 4, 'limits.xMaxUm', 'must be more than xMinUm (0), not -5'],
    ['safeHeightUm: 6000', 'safeHeightUm: 10001', 9, 'limits.safeHeightUm', 'zMinUm to zMaxUm (0 to 10000)'],
    ['    objective: 10x', '    objective: 10', 25, 'opticalPaths.search.objective', 'put it in quotes'],
    ['    objective: 10x', '    objective: 15x', 25, 'opticalPaths.search.objective', 'the nearest is "10x"'],
    ['numericalAperture: 0.8', 'numericalAperture: 1.3', 29, 'opticalPaths.close.objective', 'reckoned in air'],
    ['settleMs: 50', 'settleMs: 1e21', 10, 'stage.settleMs', 'must be at most 600000'],
    ['turretPosition: 1', 'turretPosition: 0', 21, 'objectives.50x.turretPosition', 'position 0 holds "10x" already'],
    ['apertureStopNa: 0.6', 'apertureStopNa: 0.9', 30, 'opticalPaths.close.apertureStopNa', '(0.8)'],
    ['safeHeightUm: 6000', 'safeHeightUm: 6000\n  maxLampIntensity: 0.7', 32, 'opticalPaths.close.lampIntensity', '(0.7)'],
  ])('in the instrument: %s -> %s', (from, to, line, key, part) => {
    const problems = ofInstrument(from, to);
    expect(problems.map((each) => [each.line, each.key])).toEqual([[line, key]]);
    expect(problems[0]?.message).toContain(part);
  });

  it.each([
    ['name: K-08', 'name: K-07', 9, 'chips[1].name', 'chip 1 is called "K-07" already'],
    ['opticalPath: search', 'opticalPath: search\nlookFor: { layers: [3, 1] }', 4, 'lookFor.layers', 'not [3, 1]'],
    ['opticalPath: search', 'opticalPath: search\nlookFor:\n  thicknessNm: [30, 30]', 5, 'lookFor.thicknessNm', 'not [30, 30]'],
  ])('in the run sheet: %s -> %s', (from, to, line, key, part) => {
    const problems = ofRunSheet(from, to);
    expect(problems.map((each) => [each.line, each.key])).toEqual([[line, key]]);
    expect(problems[0]?.message).toContain(part);
  });

  it('between the two', () => {
    const text = runSheetText.replace('opticalPath: search', 'opticalPath: serch');
    const instrument = parseInstrument(instrumentText, 'instrument.yaml');
    const problems = problemsOf(() => checkTogether(parseRunSheet(text, 'sheet.yaml'), instrument, { text, file: 'sheet.yaml' }));
    expect(problems).toEqual([{ line: 3, key: 'opticalPath', message: expect.stringContaining('the nearest is "search"') }]);
  });
});

describe('files that are no configuration', () => {
  const bomb = ['a: &a [x, x, x, x, x, x, x, x, x]', ...'bcdefgh'.split('').map((name, n) => `${name}: &${name} [${Array(9).fill(`*${'abcdefg'[n]}`).join(', ')}]`)].join('\n');
  it.each([
    ['a key twice', 'title: a\ntitle: b\n', 2, 'twice'],
    ['a tab', 'stage:\n\tdriver: simulated\n', 2, 'a tab is used to indent'],
    ['two documents', 'title: a\n---\ntitle: b\n', 2, 'second document'],
    ['a list', '- title\n', 1, 'must be a mapping'],
    ['nothing', '# only a comment\n', 1, 'empty'],
    ['aliases without end', bomb, 1, 'aliases'],
    ['an alias without an anchor', 'title: *who\n', 1, 'alias'],
    ['a tag', 'title: !secret x\n', 1, 'tag'],
    ['a large file', `title: ${'x'.repeat(1_100_000)}\n`, 1, 'larger than 1048576 bytes'],
    ['deep nesting', `title: ${'['.repeat(50_000)}`, 1, ''],
    ['an open bracket', 'title: [a, b\n', 1, ''],
    ['brackets without end', `title: ${'['.repeat(1_000_000)}`, 1, 'nested too deeply'],
    ['list marks without end', `${'- '.repeat(500_000)}\n`, 1, 'nested too deeply'],
    ['100,000 keys', Array.from({ length: 100_000 }, (_, n) => `k${n}:`).join('\n'), 1, 'more than 60000 words and marks'],
    ['a list for a key', '? [a]\n: b\n', 1, 'a key must be a name'],
    ['keys that are one to JavaScript', 'chips:\n  1: a\n  "1": b\n', 3, 'twice'],
  ])('%s is a clear error', (_what, text, line, part) => {
    const problems = problemsOf(() => parseRunSheet(text, 'sheet.yaml'));
    expect(problems[0]?.line).toBeGreaterThanOrEqual(line);
    expect(problems.map((each) => each.message).join('\n')).toContain(part);
  });

  it('refuses a name that JavaScript would swallow', () => {
    const text = instrumentText.replace('  search:', '  __proto__:');
    expect(problemsOf(() => parseInstrument(text, 'instrument.yaml'))).toEqual([{ line: 24, key: '', message: expect.stringContaining('__proto__') }]);
  });

  it('says what it found without what a terminal would obey, and no more than a person reads', () => {
    const lines = Array.from({ length: 200 }, (_, n) => `"\\e[2J${n}": 1`).join('\n');
    let said = '';
    try {
      parseRunSheet(`title: x\n${lines}\n`, 'sheet.yaml');
    } catch (error) {
      said = sentenceFor(error).sentence;
    }
    expect(said).toMatch(/sheet\.yaml has 20\d errors:/);
    expect(said).toContain('unknown key "\\u001b[2J0"');
    expect(said).toMatch(/and 17\d more errors/);
    expect(said).not.toContain('\u001b');
  });

  it.each(['/dev/zero', '/dev/full'])('reads no more of %s than a file may have', async (file) => {
    await expect(readSource(file)).rejects.toMatchObject({ code: 'badConfig', details: { problems: [{ message: expect.stringContaining('larger than 1048576 bytes') }] } });
  });

  it('never throws anything else, whatever the text', () => {
    const word = fc.constantFrom(...'title chips stage limits [ ] { } : - & * ! | > " \' # % @ --- \t \n'.split(' '), '\n  ', 'é', '\u0000', '0x1', '.nan', '<<');
    fc.assert(
      fc.property(fc.oneof(fc.string({ unit: 'binary', maxLength: 200 }), fc.array(word, { maxLength: 60 }).map((words) => words.join(' '))), (text) => {
        try {
          checkFile(text, 'x.yaml');
        } catch (error) {
          expect(hasCode(error, 'badConfig')).toBe(true);
          expect(sentenceFor(error).sentence).toMatch(/line \d+/);
        }
      }),
      { numRuns: 300 },
    );
  });
});
