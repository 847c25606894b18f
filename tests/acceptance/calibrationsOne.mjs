// One calibration of one simulated instrument, and how far it is from what the instrument was made with.
const built = (file) => import(new URL(`../../.build/${file}`, import.meta.url));
const { calibrateCamera } = await built('daemon/calibrate/camera.js');
const { calibrateBacklash } = await built('daemon/calibrate/backlash.js');
const { calibrateObjective } = await built('daemon/calibrate/objectives.js');
const { calibrateScale } = await built('daemon/calibrate/scale.js');
const { leaveSafe } = await built('daemon/calibrate/bench.js');
const { parseInstrument } = await built('daemon/config/load.js');
const { opticalPathFor } = await built('daemon/config/resolve.js');
const { sentenceFor } = await built('daemon/errors/index.js');
const { guardInstrument } = await built('drivers/safety/gate.js');
const { matrixParts } = await built('planner/frames/calibration/cameraMatrix.js');
const { waveDepthOfFieldUm } = await built('planner/focus/depthOfField.js');
const { cameraToStage } = await built('planner/plan/objective.js');
const { createSimulatedMicroscope, findTray, makeTray } = await built('simulators/index.js');
const { makeWorld } = await built('simulators/world/makeWorld.js');
const { randomStream } = await built('simulators/random.js');

export const procedures = ['camera', 'backlash', 'objectives', 'scale'];
const startMs = Date.UTC(2026, 0, 17, 20, 30);
const pitchUm = 6.9;

/** What chance makes of an instrument: nothing of it stands in the instrument file, but the rough turn of the camera. */
function drawTruth(seed) {
  const random = randomStream(seed, 'calibrations', 'truth');
  const sign = () => (random.next() < 0.5 ? -1 : 1);
  const rotationDeg = random.between(-180, 180);
  const mirrored = random.next() < 0.5;
  const pixelShare = 1 + random.between(-0.02, 0.02);
  return {
    rotationDeg,
    mirrored,
    pixelShare,
    stage: {
      backlashUm: random.between(5, 20),
      backlashYUm: random.between(5, 20),
      repeatabilityUm: random.between(1, 3),
      scaleErrorX: sign() * random.between(0.001, 0.003),
      scaleErrorY: sign() * random.between(0.001, 0.003),
      nonOrthogonalityMrad: random.between(-1, 1),
    },
    parfocalUm: random.between(-8, 8),
    parcentricXUm: random.between(-40, 40),
    parcentricYUm: random.between(-40, 40),
  };
}

function configFor(seed, tray, cameraToStageText) {
  return parseInstrument(
    `instrument: Simulated ${seed}
limits: { xMinUm: 0, xMaxUm: 75000, yMinUm: 0, yMaxUm: 50000, zMinUm: 900, zMaxUm: 8000, safeHeightUm: 3000, maxLowTravelUm: 5000 }
stage: { driver: simulated, backlashUm: 15 }
focus: { driver: simulated, expectedUm: 1000 }
camera: { driver: simulated, widthPx: 1024, heightPx: 816, pixelPitchUm: ${pitchUm}, transfer: linear }
turret: { driver: simulated }
lamp: { driver: simulated, kind: halogen }
objectives:
  10x: { magnification: 10, numericalAperture: 0.30, turretPosition: 0 }
  50x: { magnification: 50, numericalAperture: 0.80, turretPosition: 1 }
cameraToStage: ${cameraToStageText}
opticalPaths:
  survey: { objective: 10x, lampIntensity: 0.6, exposureMs: 8 }
  closeUp: { objective: 50x, lampIntensity: 0.8, exposureMs: 20 }
simulator: { seed: ${seed}, tray: ${tray} }
`,
    'calibrations',
  );
}

function trayFor(procedure, seed) {
  if (procedure === 'scale') return findTray('micrometer');
  const surface = { focusUm: 1003, tiltXMrad: 0.7, tiltYMrad: -0.5, bowUm: 1 };
  return makeTray('calibrations', [{ name: `C-${seed}`, centreUm: { xUm: 20_000, yUm: 20_000 }, widthUm: 5000, heightUm: 5000, angleDeg: 4, surface, flakesPerMm2: 8 }]);
}

/** A place with a flake of good size near the middle: as a person would choose it. */
function placeFor(seed, tray) {
  const [chip] = makeWorld(seed, tray).chips;
  const flakes = chip.flakes.map(({ terraces: [base] }) => {
    const xs = base.outlineUm.map((p) => p.xUm);
    const ys = base.outlineUm.map((p) => p.yUm);
    const at = { xUm: (Math.min(...xs) + Math.max(...xs)) / 2, yUm: (Math.min(...ys) + Math.max(...ys)) / 2 };
    return { at, sizeUm: Math.max(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)), layers: base.layers };
  });
  const good = flakes.filter(({ sizeUm, layers }) => sizeUm > 25 && sizeUm < 90 && layers >= 3);
  const away = ({ at }) => Math.hypot(at.xUm - 20_000, at.yUm - 20_000);
  return (good.length > 0 ? good : flakes).reduce((best, flake) => (away(flake) < away(best) ? flake : best)).at;
}

/** The stage's reported um of a true way: what the axes do to it, undone. */
function reportedFrom({ stage: { scaleErrorX, scaleErrorY, nonOrthogonalityMrad } }, [x, y]) {
  const yReported = y / (1 + scaleErrorY);
  return [(x - (y * nonOrthogonalityMrad) / 1000) / (1 + scaleErrorX), yReported];
}

function openBench(procedure, seed) {
  const truth = drawTruth(seed);
  const tray = trayFor(procedure, seed);
  const pixelUm = (magnification) => (pitchUm / magnification) * truth.pixelShare;
  const matrix = (magnification) => cameraToStage(pixelUm(magnification), truth.rotationDeg, truth.mirrored);
  const trueMatrix = matrix(10);
  const [c0, r0] = [reportedFrom(truth, [trueMatrix[0], trueMatrix[2]]), reportedFrom(truth, [trueMatrix[1], trueMatrix[3]])];
  const inStageUm = [c0[0], r0[0], c0[1], r0[1]];
  // The camera's own calibration knows nothing; the others come after it.
  const text = procedure === 'camera' ? '{}' : `{ matrix: [${inStageUm.map((entry) => entry / (pitchUm / 10)).join(', ')}] }`;
  const config = configFor(seed, 'demo', text);
  const objectives = [
    { magnification: 10, numericalAperture: 0.3, cameraToStageUm: matrix(10) },
    { magnification: 50, numericalAperture: 0.8, cameraToStageUm: matrix(50), parfocalUm: truth.parfocalUm, parcentricXUm: truth.parcentricXUm, parcentricYUm: truth.parcentricYUm },
  ];
  const { limits, focus } = config;
  const microscope = createSimulatedMicroscope({
    seed,
    tray,
    camera: config.camera,
    objectives,
    stage: truth.stage,
    focus: { zMinUm: limits.zMinUm, zMaxUm: limits.zMaxUm, startAtUm: limits.zMaxUm, speedUmPerS: focus.speedUmPerS },
    startMs,
    renderIn: 'here',
  });
  const instrument = guardInstrument(microscope.instrument, limits);
  const trueUm = procedure === 'scale' ? { xUm: 20_000, yUm: 20_000 } : placeFor(seed, tray);
  const [xUm, yUm] = reportedFrom(truth, [trueUm.xUm, trueUm.yUm]);
  const path = opticalPathFor('survey', config);
  const bench = { instrument, config, path, atUm: { xUm: Math.round(xUm), yUm: Math.round(yUm) }, focusRangeUm: 40, signal: new AbortController().signal, tell: () => undefined };
  return { bench, truth, inStageUm, trueMatrix, close: () => instrument.camera.close() };
}

const measure = {
  async camera({ bench, inStageUm }) {
    const { fit, isAccurate } = await calibrateCamera(bench);
    const [found, meant] = [matrixParts(fit.cameraToStageUm), matrixParts(inStageUm)];
    const turn = found.rotationDeg - meant.rotationDeg;
    if (found.mirrored !== meant.mirrored) throw new Error('mirrored the wrong way');
    return {
      found: {
        'scale of columns, %': 100 * (found.columnUm / meant.columnUm - 1),
        'scale of rows, %': 100 * (found.rowUm / meant.rowUm - 1),
        'rotation, degrees': turn - 360 * Math.round(turn / 360),
      },
      about: `${fit.stops} stops, rest ${fit.restUm.toFixed(2)} um, left out ${fit.leftOut}${isAccurate ? '' : ', said to be uncertain'}`,
    };
  },
  async backlash({ bench, truth }) {
    const { x, y, visits } = await calibrateBacklash(bench);
    return { found: { 'slack of x, um': x.playUm - truth.stage.backlashUm, 'slack of y, um': y.playUm - truth.stage.backlashYUm }, about: `${visits} visits` };
  },
  async objectives({ bench, truth }) {
    const other = opticalPathFor('closeUp', bench.config);
    const { parfocalUm, parcentricUm, parfocal } = await calibrateObjective(bench, other);
    const found = {
      'picture centre x, um': parcentricUm.xUm - truth.parcentricXUm,
      'picture centre y, um': parcentricUm.yUm - truth.parcentricYUm,
      'focus, half depths of field': (parfocalUm - truth.parfocalUm) / (waveDepthOfFieldUm(other.numericalAperture) / 2),
    };
    return { found, about: `focus ± ${parfocal.errorUm.toFixed(2)} um` };
  },
  async scale({ bench, trueMatrix, truth }) {
    const { pixelUm, stagePerTrue, acrossDeg } = await calibrateScale(bench, 10);
    const across = (acrossDeg * Math.PI) / 180;
    const [x, y] = reportedFrom(truth, [Math.cos(across), Math.sin(across)]);
    // Across the lines, a true um is so many of the stage's: the way along the normal, projected on it.
    const meant = x * Math.cos(across) + y * Math.sin(across);
    return { found: { 'true pixel, %': 100 * (pixelUm / matrixParts(trueMatrix).columnUm - 1), 'stage against true um, %': 100 * (stagePerTrue / meant - 1) }, about: `across ${acrossDeg.toFixed(1)} degrees` };
  },
};

/** Runs one calibration; rejects with the sentence that a person would read. The instrument must be safe afterwards. */
export async function calibrateOne(procedure, seed) {
  const opened = openBench(procedure, seed);
  const { instrument, config } = opened.bench;
  try {
    return await measure[procedure](opened);
  } catch (error) {
    throw new Error(error.code === undefined ? error.stack : sentenceFor(error).sentence);
  } finally {
    await leaveSafe(instrument, config.limits.safeHeightUm);
    await opened.close();
  }
}
