import type { Ladder } from '../../planner/layers/types.ts';
import type { CalibrationRecord } from '../records/types.ts';

/** Rungs of the ladder that are kept and drawn. */
const layersShown = 10;

/** Contrast per channel for 0 to 10 layers under the ladder's best hypothesis. */
export function rungsShown(ladder: Ladder): readonly (readonly number[])[] {
  const rungs = ladder.hypotheses[0]?.rungs;
  if (!rungs) return [];
  return Array.from({ length: layersShown + 1 }, (_, layers) => {
    const at = rungs.layers.indexOf(layers) * rungs.channels;
    return [...rungs.contrast.subarray(at, at + rungs.channels)];
  });
}

/** Where a ladder settled, over all ways in which it may stand: means weighted as they are, with the spread of the oxide. */
export function calibrationOf(ladder: Ladder): CalibrationRecord {
  const mean = (value: (at: Ladder['hypotheses'][number]['setting']) => number): number => ladder.hypotheses.reduce((sum, each) => sum + each.weight * value(each.setting), 0);
  const oxideNm = mean((at) => at.oxideNm);
  return {
    terraces: ladder.samples - ladder.labelled,
    labels: ladder.labelled,
    oxideNm,
    oxideErrorNm: Math.sqrt(mean((at) => (at.oxideNm - oxideNm) ** 2)),
    scale: Array.from({ length: ladder.context.channels }, (_, channel) => mean((at) => at.scale[channel] ?? 1)),
  };
}
