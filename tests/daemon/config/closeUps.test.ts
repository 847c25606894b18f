import { describe, expect, it } from 'vitest';
import { closeUpPolicyFor } from '../../../daemon/config/resolve.ts';
import { NightjarError } from '../../../daemon/errors/index.ts';
import { tinyFiles, withCloseUps, type TinyChange } from '../../support/tinyFiles.ts';

/** Protects: close-ups that the instrument cannot take are refused with the key to change. Laws of our own. */

function problemsOf(change: Record<string, unknown>): readonly { readonly key: string; readonly message: string }[] {
  const both: TinyChange = (instrument, sheet) => {
    withCloseUps(instrument, sheet);
    const { closeUps } = sheet as { closeUps?: object };
    Object.assign(closeUps ?? {}, change);
  };
  try {
    tinyFiles(both);
    return [];
  } catch (error) {
    if (!(error instanceof NightjarError) || error.code !== 'badConfig') throw error;
    return (error.details as { problems: readonly { key: string; message: string }[] }).problems;
  }
}

describe('close-ups in a run sheet', () => {
  it('are read with what is left out filled in', () => {
    const { sheet, config } = tinyFiles(withCloseUps);
    if (!sheet.closeUps) throw new Error('the run sheet lost its close-ups');
    const policy = closeUpPolicyFor(sheet.closeUps, config);
    expect(policy).toMatchObject({ focusRangeUm: 6, stackFrames: 5 });
    expect(policy.stackStepUm).toBeCloseTo(policy.depthOfFieldUm / 2, 12);
  });

  it('name an optical path that is there', () => {
    expect(problemsOf({ opticalPath: 'closup' })).toMatchObject([{ key: 'closeUps.opticalPath', message: expect.stringContaining('the nearest is "closeUp"') }]);
  });

  it('search and step within the limits of the focus drive', () => {
    expect(problemsOf({ stackFrames: 25, stackStepUm: 20 })).toMatchObject([{ key: 'closeUps.stackFrames' }]);
    // The tiny instrument expects focus 100 um above its lower limit, and this objective focuses 30 um lower.
    expect(problemsOf({ focusRangeUm: 71 })).toMatchObject([{ key: 'closeUps.focusRangeUm', message: expect.stringContaining('only 70 um') }]);
    expect(problemsOf({ focusRangeUm: 70 })).toEqual([]);
  });

  it('have no keys that nobody knows', () => {
    expect(problemsOf({ budgetMins: 4 })).toMatchObject([{ key: 'closeUps.budgetMins', message: expect.stringContaining('budgetMin') }]);
  });
});
