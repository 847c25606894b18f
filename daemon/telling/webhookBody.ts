import { oneLine } from '../markup.ts';
import type { Tidings } from './types.ts';

/** Flakes that a webhook names; the mail and the page show more. */
const flakesTold = 10;

/** The JSON that a webhook is sent, version 1 (see README.md, Being told). What is not known is left out. */
export function webhookBody(tidings: Tidings): string {
  const { id, kind, atMs, sentence, night, course, flakes, troubles, page } = tidings;
  return JSON.stringify({
    version: 1,
    id,
    kind,
    at: new Date(atMs).toISOString(),
    text: oneLine(sentence, 1000),
    ...(night ? { night: { runId: night.runId, title: oneLine(night.title), instrument: oneLine(night.instrument), operator: oneLine(night.operator) } } : {}),
    ...(night ? { tiles: { planned: night.tilesPlanned, done: night.tilesDone, skipped: night.tilesSkipped }, flagged: night.flagged } : {}),
    ...(course ? { course } : {}),
    flakes: flakes.slice(0, flakesTold).map(({ id: flake, chip, layers, layersText, probability, usableUm, areaUm2, chipXUm, chipYUm, reasons, cautions }) => ({
      id: flake,
      chip: oneLine(chip),
      layers,
      layersText,
      probability: round(probability),
      usableUm: round(usableUm),
      areaUm2: round(areaUm2),
      chipUm: [round(chipXUm), round(chipYUm)],
      reasons,
      cautions,
    })),
    troubles: troubles.map((trouble) => oneLine(trouble)),
    ...(page === undefined ? {} : { page }),
  });
}

function round(value: number): number {
  return Math.round(value * 100) / 100;
}
