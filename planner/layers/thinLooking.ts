import type { Cube } from './cube.ts';
import { rungsAt } from './cube.ts';
import { matchRung } from './likelihood.ts';
import type { Trust } from './tuning.ts';
import type { ContrastSample, LadderContext, LadderSetting, Rungs } from './types.ts';

/** Thicker than this many of the table's layers, a flake no longer tells how thick one layer is. */
const THIN_LAYERS = 13;
/** The tables alone, before any fit, are trusted to this. */
const LOOSE = { curveShare: 0.12, curveFloor: 0.02, partingLayers: Infinity };
/** One grey is that of thin and of thick films alike: a sample counts unless the thin one is worse by more than this squared error. */
const GREY_TIE = 1;
/** Oxide against the box, shares tried. */
const OXIDES = [0.95, 0.97, 0.985, 1, 1.015, 1.03, 1.05];

/**
 * Chooses the samples that look thin by the tables alone, whatever the oxide within wafers' spread. Thick flakes lie on the same smooth
 * curve at any scale: they would only pull the ladder until it reaches them.
 */
export function thinLooking(context: LadderContext, ladder: Cube, thick: Cube, trust: Trust, samples: readonly ContrastSample[]): readonly ContrastSample[] {
  const fine = Float64Array.from({ length: 60 }, (_, i) => (i + 1) / 2);
  const coarse = Float64Array.from({ length: 80 }, (_, i) => (fine.at(-1) as number) + 1 + i * 4).filter((n) => n * thick.layerThicknessNm < 140);
  const loose: Trust = { ...trust, ...LOOSE };
  const curves = OXIDES.map((share) => {
    const setting = plainSetting(context.oxideNm * share, context.channels);
    return [rungsAt(ladder, setting, fine), rungsAt(thick, setting, coarse)] as const;
  });
  return samples.filter((sample) => {
    const thin = Math.min(...curves.map(([f]) => leastMisfit(sample, f, loose, (n) => n <= THIN_LAYERS)));
    const other = Math.min(...curves.flatMap(([f, c]) => [leastMisfit(sample, f, loose, (n) => n > THIN_LAYERS), leastMisfit(sample, c, loose, () => true)]));
    return thin <= other + (context.channels === 1 ? GREY_TIE : 0);
  });
}

function plainSetting(oxideNm: number, channels: number): LadderSetting {
  const each = (value: number): readonly number[] => Array.from({ length: channels }, () => value);
  return { oxideNm, scale: each(1), shiftNm: each(0), gain: each(1) };
}

function leastMisfit(sample: ContrastSample, rungs: Rungs, trust: Trust, counts: (layers: number) => boolean): number {
  let least = Infinity;
  for (let rung = 0; rung < rungs.layers.length; rung++) {
    if (counts(rungs.layers[rung] as number)) least = Math.min(least, matchRung(sample, rungs, rung, trust).chiSquare);
  }
  return least;
}
