import { stringify } from 'yaml';
import { understand, type NightFiles } from '../../daemon/run/openNight.ts';

/** The instrument file of a small simulated microscope over the tray `tiny`, before it is turned into text. */
export function tinyInstrument() {
  return {
    instrument: 'Test bench',
    limits: {
      xMinUm: 0,
      xMaxUm: 75_000,
      yMinUm: 0,
      yMaxUm: 50_000,
      zMinUm: 900,
      zMaxUm: 8000,
      safeHeightUm: 3000,
      maxLowTravelUm: 2000,
      maxLowSpeedUmPerS: 10_000,
      maxLowFocusSpeedUmPerS: 500,
      maxLampIntensity: 0.9,
    },
    stage: { driver: 'simulated', backlashUm: 15 },
    focus: { driver: 'simulated', speedUmPerS: 500, expectedUm: 1000 },
    camera: { driver: 'simulated', widthPx: 256, heightPx: 208, pixelPitchUm: 6.9, bits: 8, transfer: 'linear', whiteBalance: 'mirror', readoutMs: 40 },
    turret: { driver: 'simulated' },
    lamp: { driver: 'simulated', kind: 'halogen' },
    objectives: { '10x': { magnification: 10, numericalAperture: 0.3, turretPosition: 0 } },
    cameraToStage: { rotationDeg: 0.4, mirrored: true },
    opticalPaths: { survey: { objective: '10x', lampIntensity: 0.6, exposureMs: 8 } },
    simulator: { seed: 7, tray: 'tiny' },
  };
}

/** The run sheet that scans the one chip of the tray `tiny` (see simulators/trays.ts): a few dozen tiles. */
export function tinySheet() {
  return {
    title: 'One small chip',
    operator: { initials: 't.s.', contact: 'nobody, this is a test' },
    opticalPath: 'survey',
    overlap: 0.1,
    lookFor: { layers: [1, 4], leastUsableUm: 3 },
    focus: { pointsPerChip: 4, rangeUm: 20 },
    keep: { rawFrames: false },
    atTheEnd: { lamp: 'off', raiseObjective: true },
    chips: [
      {
        name: 'T-01',
        outline: { rectangle: { centreUm: [20_000, 20_000], widthUm: 900, heightUm: 800, angleDeg: 3 } },
        edgeMarginUm: 80,
        material: 'graphene',
        oxideNm: 290,
      },
    ],
  };
}

export type TinyChange = (instrument: ReturnType<typeof tinyInstrument>, sheet: ReturnType<typeof tinySheet>) => void;

/** Only the middle of the chip: about a dozen tiles. */
export const fewTiles: TinyChange = (_, sheet) => {
  for (const chip of sheet.chips) Object.assign(chip.outline.rectangle, { widthUm: 640, heightUm: 540 });
  sheet.focus.pointsPerChip = 3;
};

/** A second objective with offsets of its own, and a few minutes of close-ups through it. */
export const withCloseUps: TinyChange = (instrument, sheet) => {
  Object.assign(instrument.objectives, { '50x': { magnification: 50, numericalAperture: 0.8, turretPosition: 1, parfocalUm: -30, parcentricXUm: 8, parcentricYUm: -5 } });
  Object.assign(instrument.opticalPaths, { closeUp: { objective: '50x', lampIntensity: 0.6, exposureMs: 28 } });
  Object.assign(sheet, { closeUps: { opticalPath: 'closeUp', budgetMin: 1 } });
};

/** The control sample of the tray `watched`, which every night looks at first and last. */
export const withKnownFlake: TinyChange = (instrument) => {
  instrument.simulator.tray = 'watched';
  Object.assign(instrument, { knownFlake: { name: 'W-1', stageUm: [21_370, 20_520], material: 'graphene', oxideNm: 290, layers: 2, note: 'glued, upper left of the tray' } });
};

/** Both texts of a tiny night, changed as wished. */
export function tinyTexts(change: TinyChange = () => undefined): { readonly instrumentText: string; readonly runSheetText: string } {
  const [instrument, sheet] = [tinyInstrument(), tinySheet()];
  change(instrument, sheet);
  return { instrumentText: stringify(instrument), runSheetText: stringify(sheet) };
}

/** Both files of a tiny night, understood by the daemon's own reader. */
export function tinyFiles(change?: TinyChange): NightFiles {
  const { instrumentText, runSheetText } = tinyTexts(change);
  return understand(runSheetText, 'tiny sheet', instrumentText, 'tiny instrument');
}
