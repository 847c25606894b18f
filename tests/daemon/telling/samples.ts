import type { TellingFlake, Tidings } from '../../../daemon/telling/types.ts';

export const eveningMs = Date.UTC(2026, 0, 17, 20, 30);

export function flake(change: Partial<TellingFlake> = {}): TellingFlake {
  return { id: 'K-07/3', chip: 'K-07', layersText: '1 layer', layers: 1, probability: 0.971, usableUm: 14.26, areaUm2: 310.4, chipXUm: 812.4, chipYUm: 1204.9, reasons: ['a circle of 14 µm fits'], cautions: [], ...change };
}

/** A summary of an invented night. */
export function tidings(change: Partial<Tidings> = {}): Tidings {
  return {
    id: '20260117-203000-morning-1',
    kind: 'morning',
    atMs: eveningMs,
    sentence: 'Done: 418 of 420 tiles, 1 flake flagged.',
    night: { runId: '20260117-203000', title: 'Tuesday, new tape', instrument: 'Bench 2', operator: 'm.o.', tilesPlanned: 420, tilesDone: 418, tilesSkipped: 2, flagged: 1 },
    course: { forecastS: 3600, tookS: 3905, waits: [{ what: 'for the classifier', seconds: 62 }], skipped: [{ reason: 'the frame is black', tiles: 2 }], closeUpsDone: 1, closeUpsSkipped: 0 },
    flakes: [flake()],
    pictures: new Map(),
    troubles: [],
    page: 'http://127.0.0.1:7310/',
    ...change,
  };
}
