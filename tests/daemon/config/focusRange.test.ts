import { describe, expect, it } from 'vitest';
import { hasCode, sentenceFor } from '../../../daemon/errors/index.ts';
import { tinyFiles, type TinyChange } from '../../support/tinyFiles.ts';

/** Protects: a focus search that could reach beyond the drive's limits is refused with a sentence before anything moves. */

function refusal(change: TinyChange): { readonly key: string; readonly message: string }[] {
  try {
    tinyFiles(change);
    return [];
  } catch (error) {
    if (!hasCode(error, 'badConfig')) throw error;
    expect(sentenceFor(error).kept).toBe('Nothing was started.');
    return error.details.problems.map(({ key, message }) => ({ key, message }));
  }
}

describe('the range of a focus search', () => {
  // The tiny instrument: limits 900 to 8000 um, expected at 1000 um.
  it('may reach the limits, and no further', () => {
    expect(refusal((_, sheet) => Object.assign(sheet.focus, { rangeUm: 100 }))).toEqual([]);
    expect(refusal((_, sheet) => Object.assign(sheet.focus, { rangeUm: 120 }))).toEqual([
      { key: 'focus.rangeUm', message: '120 above and below the expected focus (1000) reaches beyond zMinUm (900): at most 100 reaches no further' },
    ]);
  });

  it('counts how far the objective\'s focus lies from the first', () => {
    const problems = refusal((instrument) => Object.assign(instrument.objectives['10x'], { parfocalUm: -150 }));
    expect(problems).toMatchObject([{ key: 'focus.rangeUm' }]);
    expect(problems[0]?.message).toContain('there is no height to search');
  });

  it('must lie below the height at which the objective clears every chip', () => {
    expect(refusal((instrument) => Object.assign(instrument.focus, { expectedUm: 3200 }))).toEqual([
      { key: 'focus.expectedUm', message: 'must be below safeHeightUm (3000), where the objective clears every chip, not 3200' },
    ]);
  });
});
