import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { fitCameraMatrix, matrixErrors, matrixParts, shownAfter, type MatrixStop } from '../../../planner/frames/calibration/cameraMatrix.ts';
import { fitParfocal } from '../../../planner/frames/calibration/heights.ts';
import { fitSlack, takeUpUm } from '../../../planner/frames/calibration/slack.ts';
import { cameraToStage } from '../../../planner/plan/objective.ts';
import type { Matrix2 } from '../../../planner/units/index.ts';
import { noiseGenerator } from './wavePicture.ts';

/** Protects: matrix, slack and parfocal offset are those that the data were made with, and their stated errors are honest. */

/** Normal deviates, Box and Muller's transform. */
function normals(seed: number): () => number {
  const next = noiseGenerator(seed);
  return () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next());
}

/** A star of stops about a place, each off by the stage's scatter. */
function star(matrix: Matrix2, scatterUm: number, seed: number): MatrixStop[] {
  const normal = normals(seed);
  return Array.from({ length: 96 }, (_, i) => {
    const angle = (i % 8) * (Math.PI / 4);
    const radiusUm = 120 * (1 + Math.floor(i / 8));
    const trueUm = { xUm: 20_000 + radiusUm * Math.cos(angle), yUm: 9000 + radiusUm * Math.sin(angle) };
    const shownPx = shownAfter(matrix, { xUm: 20_000, yUm: 9000 }, trueUm) ?? { colPx: NaN, rowPx: NaN };
    return { stageUm: { xUm: trueUm.xUm + scatterUm * normal(), yUm: trueUm.yUm + scatterUm * normal() }, shownPx };
  });
}

function fitted(stops: readonly MatrixStop[], allowedUm = 5) {
  const result = fitCameraMatrix(stops, allowedUm);
  if (!result.ok) throw new Error(JSON.stringify(result.refusal));
  return result.fit;
}

const nearly = (value: number) => fc.double({ min: -value, max: value, noNaN: true });

describe('the camera matrix', () => {
  it('comes back exactly when the stage is exact, turned, mirrored, skewed or stretched', () => {
    fc.assert(
      fc.property(nearly(179), fc.boolean(), nearly(0.01), nearly(0.01), nearly(0.01), (turnDeg, mirrored, a, b, c) => {
        const m = cameraToStage(0.69, turnDeg, mirrored);
        const matrix: Matrix2 = [m[0] * (1 + a), m[1] * (1 + b), m[2] * (1 + a) + c * m[0], m[3] * (1 + b)];
        fitted(star(matrix, 0, 1)).cameraToStageUm.forEach((entry, i) => expect(entry).toBeCloseTo(matrix[i] ?? NaN, 9));
      }),
    );
  });

  it('is told in scale, turn and mirror as it was made', () => {
    fc.assert(
      fc.property(nearly(179), fc.boolean(), (turnDeg, mirrored) => {
        const parts = matrixParts(cameraToStage(0.345, turnDeg, mirrored));
        expect(parts.columnUm).toBeCloseTo(0.345, 9);
        expect(parts.rowUm).toBeCloseTo(0.345, 9);
        expect(parts.rotationDeg).toBeCloseTo(turnDeg, 6);
        expect(parts.skewDeg).toBeCloseTo(0, 6);
        expect(parts.mirrored).toBe(mirrored);
      }),
    );
  });

  it('states errors that the errors made keep to: over 200 stars, their mean square over the stated one is 1 within 15 %', () => {
    const truth = cameraToStage(0.69, 12, true);
    let [scale, turn] = [0, 0];
    for (let seed = 0; seed < 200; seed++) {
      const fit = fitted(star(truth, 0.8, seed));
      const [found, stated] = [matrixParts(fit.cameraToStageUm), matrixErrors(fit)];
      scale += ((found.columnUm / 0.69 - 1) ** 2 + (found.rowUm / 0.69 - 1) ** 2) / (2 * stated.scale ** 2 * 200);
      turn += (found.rotationDeg - 12) ** 2 / (stated.rotationDeg ** 2 * 200);
      expect(fit.restUm).toBeGreaterThan(0.6);
      expect(fit.restUm).toBeLessThan(1);
    }
    expect(Math.abs(Math.sqrt(scale) - 1)).toBeLessThan(0.15);
    expect(Math.abs(Math.sqrt(turn) - 1)).toBeLessThan(0.15);
  });

  it('leaves out a mismatched picture and says so', () => {
    const truth = cameraToStage(0.69, -3, false);
    const stops = star(truth, 0.5, 3).map((stop, i) => (i === 17 || i === 40 ? { ...stop, shownPx: { colPx: stop.shownPx.colPx + 60, rowPx: stop.shownPx.rowPx } } : stop));
    const fit = fitted(stops);
    expect(fit.leftOut).toBe(2);
    expect(Math.abs(matrixParts(fit.cameraToStageUm).columnUm / 0.69 - 1)).toBeLessThan(0.001);
  });

  it('is refused where the stops scatter, are too few, or lie on one line', () => {
    const truth = cameraToStage(0.69, 0, false);
    expect(fitCameraMatrix(star(truth, 20, 1), 5)).toMatchObject({ ok: false, refusal: { code: 'badFit', allowedUm: 5 } });
    expect(fitCameraMatrix(star(truth, 0, 1).slice(0, 5), 5)).toMatchObject({ ok: false, refusal: { code: 'tooLittleTexture' } });
    expect(fitCameraMatrix(star(truth, 0, 1).filter((_, i) => i % 4 === 0), 5)).toMatchObject({ ok: false });
  });
});

describe('slack', () => {
  it('is the difference of the means, with an error that keeps its word (200 draws, 15 %)', () => {
    let square = 0;
    for (let seed = 0; seed < 200; seed++) {
      const normal = normals(seed + 500);
      const fit = fitSlack(Array.from({ length: 12 }, () => 3 + 0.7 * normal()), Array.from({ length: 12 }, () => 15 + 0.7 * normal()));
      square += (((fit?.playUm ?? NaN) - 12) / (fit?.errorUm ?? NaN)) ** 2 / 200;
    }
    expect(Math.abs(Math.sqrt(square) - 1)).toBeLessThan(0.15);
  });

  it('needs three visits from each side', () => {
    expect(fitSlack([1, 2], [1, 2, 3])).toBeUndefined();
  });

  it('is surely taken up by what is recommended', () => {
    fc.assert(fc.property(fc.double({ min: 0, max: 40, noNaN: true }), (playUm) => takeUpUm([{ playUm, errorUm: 0.1, scatterUm: 0.6 }, { playUm: playUm / 2, errorUm: 0.1, scatterUm: 0.6 }]) > playUm + 0.6));
  });
});

describe('parfocal offset', () => {
  it('is exact under a steady drift', () => {
    const readings = [false, true, true, false, false, true].map((isOther, i) => ({ isOther, atMs: 60_000 * i, zUm: 1000 + (isOther ? 7.3 : 0) + 0.4 * i }));
    expect(fitParfocal(readings)?.offsetUm).toBeCloseTo(7.3, 9);
    expect(fitParfocal(readings.slice(0, 3))).toBeUndefined();
    expect(fitParfocal(readings.map((reading) => ({ ...reading, isOther: false })))).toBeUndefined();
  });
});
