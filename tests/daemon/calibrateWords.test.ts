import { describe, expect, it } from 'vitest';
import { NightjarError, sentenceFor } from '../../daemon/errors/index.ts';
import type { CalibrationRefusal } from '../../planner/frames/calibration/refusals.ts';

/** Protects: every refusal of a calibration says what was found in figures and what to do next. */

const refusals: readonly (readonly [CalibrationRefusal, string, string])[] = [
  [{ code: 'tooLittleTexture', matched: 3, of: 40, least: 20 }, '3 of 40 pictures could be matched, and 20 are needed', '`--at x,y`'],
  [{ code: 'noFocus', objective: '50x', centreUm: 1000, rangeUm: 60 }, 'Focus was not found with 50x within 60 µm of 1 mm', '`--focus-range-um`'],
  [{ code: 'badFit', restUm: 7.35, allowedUm: 4 }, '7.35 µm are left where 4 µm are allowed', '`stage.settleMs`'],
  [{ code: 'tooUncertain', what: 'the slack', error: 1.4, allowed: 1, unit: 'um' }, 'the error of the slack is 1.4 µm, and 1 µm are allowed', 'larger'],
  [{ code: 'tooUncertain', what: 'the scale', error: 0.31, allowed: 0.2, unit: '%' }, '0.31 %', 'larger'],
  [{ code: 'otherScale', factor: 5, objective: '10x' }, '5 times as large per pixel as 10x should give', '`magnification`'],
  [{ code: 'otherMatrix', movedUm: [30, 0], shownUm: [0.4, -29.7] }, 'by (30, 0) µm, and the picture by (0.4, −29.7) µm', '`nightjar calibrate camera` first'],
  [{ code: 'noLines', score: 4, least: 15 }, 'No lines at equal distances', 'micrometer'],
  [{ code: 'notFoundAgain', withinUm: 120, objective: '50x' }, 'What 50x shows was not found again', '`turretPosition`'],
];

describe('a refused calibration', () => {
  it.each(refusals)('%o', (refusal, found, next) => {
    const spoken = sentenceFor(new NightjarError('calibrationRefused', { procedure: 'camera', refusal }));
    expect(spoken.happened).toContain('No calibration of camera: ');
    expect(spoken.happened).toContain(found);
    expect(spoken.kept).toBe('The instrument file is as it was.');
    expect(spoken.next).toContain(next);
  });
});
