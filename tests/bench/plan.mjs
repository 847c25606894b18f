// Planning, and how near the simulated night comes to what was planned: the figures of the planner's bars.
// node tests/bench/plan.mjs [--quick | --wide]
// Ends with 1 when the night is not within 3 % of its forecast, or its time on the chip not within 3 % of the instrument's bound. Planning time is printed
// beside sorting a million numbers in the same process, and decides nothing.
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { makeNight, startScan, withRecords } from '../acceptance/night.mjs';

const built = (path) => new URL(`../../.build/${path}`, import.meta.url);
const { planScan } = await import(built('planner/plan/planScan.js'));
const { cameraToStage } = await import(built('planner/plan/objective.js'));
const { waveDepthOfFieldUm } = await import(built('planner/focus/depthOfField.js'));
const { focusMoveSeconds } = await import(built('planner/plan/travel.js'));
const { approachSeconds } = await import(built('planner/plan/kinematics.js'));
const { focusWaysSeconds } = await import(built('planner/plan/bound.js'));
const { planRequestFor } = await import(built('daemon/config/resolve.js'));
const { parseInstrument, parseRunSheet } = await import(built('daemon/config/index.js'));
const { USUAL_STAGE } = await import(built('simulators/devices/simulatedStage.js'));
const quick = process.argv.includes('--quick');
const most = 0.03;

const timing = { maxSpeedUmPerS: 10_000, highSpeedUmPerS: 20_000, accelerationUmPerS2: 100_000, settleMs: 60, backlashUm: 15, playUm: [12, 12], focusSpeedUmPerS: 500, focusAccelerationUmPerS2: 10_000, focusSettleMs: 20, exposureMs: 8, readoutMs: 40, bytesPerTile: 250_000 };
const apertures = { 5: 0.15, 10: 0.3, 20: 0.45, 50: 0.8 };

/** A square chip in the middle of a wide stage, the usual camera of 2448 x 2048 px at 3.45 um, 10 % overlap. */
function planSquare(sideUm, magnification, angleDeg = 0) {
  const depthOfFieldUm = waveDepthOfFieldUm(apertures[magnification]);
  const outline = { shape: 'rectangle', centreUm: { xUm: 50_000, yUm: 50_000 }, widthUm: sideUm, heightUm: sideUm, angleDeg };
  const limits = { xMinUm: 0, xMaxUm: 100_000, yMinUm: 0, yMaxUm: 100_000, zMinUm: 0, zMaxUm: 5000 };
  const result = planScan({
    chips: [{ name: 'square', outline, edgeMarginUm: 0 }],
    frameWidthPx: 2448, frameHeightPx: 2048, cameraToStageUm: cameraToStage(3.45 / magnification, 0, true), overlap: 0.1,
    focusPointsPerChip: 9, focus: { rangeUm: 40, depthOfFieldUm, takeUpUm: depthOfFieldUm }, limits, timing, lowTravel: { maxUm: 5000, raiseUm: 2000 },
  });
  if (!result.ok) throw new Error(JSON.stringify(result.refusals));
  return result.plan;
}

const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)];
const timeOf = (work) => {
  const begin = performance.now();
  work();
  return performance.now() - begin;
};

console.log('A chip of 10 x 10 mm, 2448 x 2048 px of 3.45 um, 10 % overlap, 250 kB a tile (bars: 56, 224, 864, 5,214 tiles)');
for (const magnification of [5, 10, 20, 50]) {
  const { tileCount, forecastS, boundS, diskBytes } = planSquare(10_000, magnification);
  console.log(`${String(magnification).padStart(4)}x  ${String(tileCount).padStart(5)} tiles  ${(forecastS / 60).toFixed(1).padStart(5)} min (bound ${(boundS / 60).toFixed(1)} min)  ${(diskBytes / 1e9).toFixed(2)} GB`);
}

const numbers = Float64Array.from({ length: 1_000_000 }, (_, i) => Math.sin(i * 12.9898) * 43_758.5453);
const sortMs = median([0, 1, 2].map(() => timeOf(() => numbers.slice().sort())));
const tiles = planSquare(44_000, 50, 5).tileCount;
const planMs = median([0, 1, 2].map(() => timeOf(() => planSquare(44_000, 50, 5))));
console.log(`\n${tiles} tiles planned in ${(planMs / 1000).toFixed(2)} s (bar: 100,000 in less than 2 s): ${(planMs / sortMs).toFixed(1)} times sorting a million numbers`);

/** Nights on the demo's microscope, its stage's own top speed allowed low. The simulated objective begins at the top: hardly above the safe height here, so that its way down is known. */
const nights = {
  // A chip of the size, a thousand frames at 20x.
  usual: { objective: '20x', sizeUm: [9700, 9100] },
  // As many frames at 10x make a wide chip, on which the ways between focus points are long.
  wide: { objective: '10x', sizeUm: [19_000, 18_000] },
  quick: { objective: '10x', sizeUm: [9000, 9000] },
};

async function runNight({ objective, sizeUm: [widthUm, heightUm] }) {
  const night = makeNight('plan', (instrument, runSheet) => {
    instrument.stage.playUm = [12, 12];
    instrument.simulator.tray = 'wide';
    instrument.objectives['20x'] = { magnification: 20, numericalAperture: 0.45, turretPosition: 2 };
    instrument.opticalPaths.survey.objective = objective;
    Object.assign(instrument.limits, { maxLowSpeedUmPerS: 20_000, zMaxUm: 3010 });
    const [chip] = runSheet.chips;
    runSheet.chips = [{ ...chip, name: 'W-01', edgeMarginUm: 300, outline: { rectangle: { centreUm: [25_000, 25_000], widthUm, heightUm, angleDeg: 1 } } }];
    runSheet.focus.pointsPerChip = 9;
    delete runSheet.closeUps;
  });
  try {
    const data = join(night.folder, 'data');
    const end = await startScan(night, data).ended;
    if (end.code !== 0) throw new Error(`nightjar scan ended with ${end.code ?? end.signal}:\n${end.said}`);
    return withRecords(data, (db, run) => {
      const plan = JSON.parse(run.plan);
      const atS = (cause) => db.prepare('SELECT at_ms FROM transition WHERE run_id = ? AND cause = ?').pluck().get(run.id, cause) / 1000;
      const request = planRequestFor(parseRunSheet(run.run_sheet, 'sheet'), parseInstrument(run.instrument, 'instrument'));
      const lastTakenS = db.prepare('SELECT max(taken_at_ms) FROM tile').pluck().get() / 1000;
      const upOrDownS = focusMoveSeconds(request.lowTravel.raiseUm, request.timing);
      const [first] = plan.chips[0].focusPointsUm;
      const firstWayS = approachSeconds(USUAL_STAGE.startAtUm, first, { ...request.timing, maxSpeedUmPerS: request.timing.highSpeedUmPerS, playUm: undefined });
      return {
        tiles: plan.tileCount,
        done: db.prepare("SELECT count(*) FROM tile WHERE outcome = 'done'").pluck().get(),
        forecastS: plan.forecastS,
        boundS: plan.boundS,
        focusWaysS: focusWaysSeconds(plan.chips[0].focusPointsUm, plan.chips[0].tiles[0].centreUm, request.timing),
        // The objective is raised once the end is recorded.
        nightS: atS('done') - atS('begun') + upOrDownS,
        chipS: lastTakenS + request.timing.readoutMs / 1000 - atS('prepared') - firstWayS - upOrDownS,
      };
    });
  } finally {
    rmSync(night.folder, { recursive: true, force: true });
  }
}

const kind = quick ? 'quick' : process.argv.includes('--wide') ? 'wide' : 'usual';
const seen = await runNight(nights[kind]);
const [off, over, overTiles, overAll] = [seen.nightS / seen.forecastS, seen.chipS / seen.boundS, seen.chipS / (seen.boundS - seen.focusWaysS), seen.nightS / seen.boundS].map((ratio) => ratio - 1);
const percent = (share) => `${(100 * share).toFixed(2)} %`;
console.log(`\nA night of ${seen.tiles} tiles on one chip at ${nights[kind].objective} (${seen.done} done): simulated ${seen.nightS.toFixed(1)} s, forecast ${seen.forecastS.toFixed(1)} s: ${percent(off)} off (bar: within 3 %)`);
console.log(`On the chip, from the first look for focus to the last frame: ${seen.chipS.toFixed(1)} s, bound ${seen.boundS.toFixed(1)} s: ${percent(over)} more (bar: within 3 % on 1,000 tiles); against the bound without the ways between focus points ${percent(overTiles)}; with the way there, the objective down and up, and the last frames read: ${percent(overAll)} more`);
if (Math.abs(off) > most || (kind === 'usual' && over > most)) process.exitCode = 1;
