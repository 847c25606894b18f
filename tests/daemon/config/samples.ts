import { hasCode } from '../../../daemon/errors/index.ts';
import type { ConfigProblem } from '../../../daemon/errors/index.ts';

/** A small microscope of our own invention; the line numbers are what the tests look at. */
export const instrumentText = `instrument: Bench two
limits:
  xMinUm: 0
  xMaxUm: 75000
  yMinUm: 0
  yMaxUm: 50000
  zMinUm: 0
  zMaxUm: 10000
  safeHeightUm: 6000
stage: { driver: simulated, settleMs: 50 }
focus: { driver: simulated, expectedUm: 4000 }
camera:
  driver: simulated
  widthPx: 1224
  heightPx: 1024
  pixelPitchUm: 6.9
turret: { driver: simulated }
lamp: { driver: simulated }
objectives:
  10x: { magnification: 10, numericalAperture: 0.3, turretPosition: 0 }
  50x: { magnification: 50, numericalAperture: 0.8, turretPosition: 1, parfocalUm: 12.5, parcentricXUm: -3 }
cameraToStage: { rotationDeg: 0 }
opticalPaths:
  search:
    objective: 10x
    lampIntensity: 0.6
    exposureMs: 8
  close:
    objective: 50x
    apertureStopNa: 0.6
    lampIntensity: 0.8
    exposureMs: 15
simulator: { seed: 7 }
`;

export const runSheetText = `title: Two chips
operator: { initials: r.d., contact: "phone 214" }
opticalPath: search
chips:
  - name: K-07
    outline: { rectangle: { centreUm: [20000, 15000], widthUm: 3000, heightUm: 3000, angleDeg: 4 } }
    material: graphene
    oxideNm: 290
  - name: K-08
    outline:
      polygon: [[30000, 15000], [33000, 15000], [31500, 18000]]
    material: hbn
    oxideNm: 90
`;

/** The problems that reading brings up; fails when it brings up none. */
export function problemsOf(read: () => unknown): readonly ConfigProblem[] {
  try {
    read();
  } catch (error) {
    if (hasCode(error, 'badConfig')) return error.details.problems;
    throw error;
  }
  throw new Error('nothing was wrong with it');
}
