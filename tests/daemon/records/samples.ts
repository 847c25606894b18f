import { mkdtempSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import type { ChipRecord, RunRecord, TileCommit } from '../../../daemon/records/index.ts';
import { sentenceFor } from '../../../daemon/errors/index.ts';
import type { Detection, Flake, MeasuredTerrace } from '../../../planner/flakes/types.ts';

/** Folders of one test file, removed by `clear`. */
export function folders(): { make: () => string; clear: () => void } {
  const made: string[] = [];
  return {
    make() {
      const directory = mkdtempSync(join(tmpdir(), 'nightjar-records-'));
      made.push(directory);
      return directory;
    },
    clear() {
      for (const directory of made.splice(0)) rmSync(directory, { recursive: true, force: true });
    },
  };
}

export const runRecord: RunRecord = {
  id: 'night-1',
  title: 'Two chips',
  createdAtMs: 1_790_000_000_000,
  runSheetText: 'title: Two chips\n',
  instrumentText: 'instrument: Bench two\n',
  plan: {
    chips: [{
      name: 'K-07',
      outlineUm: [{ xUm: 0, yUm: 0 }, { xUm: 3000, yUm: 0 }, { xUm: 1500, yUm: 3000 }],
      scannedUm: [],
      otherPiecesUm: [],
      focusPointsUm: [{ xUm: 1500, yUm: 900 }],
      tiles: Array.from({ length: 10 }, (_, index) => ({ index, chip: 'K-07', row: 0, column: index, centreUm: { xUm: 400 + index, yUm: 300 } })),
      areaMm2: 4.5,
    }],
    tileCount: 10,
    forecastS: 12.5,
    diskBytes: 250_000,
    fieldWidthUm: 844,
    fieldHeightUm: 706,
  },
  state: 'preflight',
};

export const terrace: MeasuredTerrace = {
  outlineUm: [{ xUm: 10.25, yUm: -3 }, { xUm: 14, yUm: -3 }, { xUm: 14, yUm: 1e-7 }],
  areaUm2: 7.5,
  contrast: [0.05, 0.11, 0.02],
  contrastError: [0.004, 0.003, 0.006],
  edgeWidthRatio: 1.1,
  unevenness: Number.POSITIVE_INFINITY,
  inscribedUm: 2.4,
  inscribedCentreUm: { xUm: 12, yUm: -2 },
  saturatedShare: 0,
};

export const detection: Detection = { terraces: [terrace], outlineUm: terrace.outlineUm, areaUm2: 7.5, touchesFrameEdge: false };

/** A chip's record without a flat field. */
export function chipRecord(chip: string, focusPoints: ChipRecord['focusPoints'] = []): ChipRecord {
  return { chip, opticalPath: 'survey', focusPoints, dark: [0.004, 0.005, 0.004], ladder: [[0, 0, 0], [0.07, 0.06, 0.01]] };
}

export function flake(id: string, tile: number): Flake {
  const call = { layers: 1, probability: 0.97, probabilities: [0.01, 0.97, 0.02], misfit: 0.8 };
  return {
    id, chip: 'K-07', bestTile: tile, tiles: [tile], centreUm: { xUm: 12, yUm: -2 }, terraces: [{ ...terrace, call }],
    verdict: 'flagged', layers: 1, usableUm: 2.4, areaUm2: 7.5, rank: 3.25,
  };
}

export function writeFile(directory: string, file: string, content: string | Uint8Array): string {
  mkdirSync(dirname(join(directory, file)), { recursive: true });
  writeFileSync(join(directory, file), content);
  return file;
}

/** A tile without pictures, with one detection and one flake. */
export function commit(tile: number): TileCommit {
  return {
    tile: {
      tile, chip: 'K-07', outcome: 'done', centreUm: { xUm: 400 + tile, yUm: 300 }, zUm: 4000.5, takenAtMs: 1_790_000_001_000 + tile,
      sharpness: 0.031, substrate: [0.21, 0.2, 0.22], detections: [detection],
    },
    flakes: [flake(`F-${tile}`, tile)],
    removedFlakes: [],
    crops: [],
  };
}

/** The code of what goes wrong; 'nothing' when nothing does. */
export function codeOf(work: () => unknown): string {
  try {
    work();
    return 'nothing';
  } catch (error) {
    return sentenceFor(error).code;
  }
}
