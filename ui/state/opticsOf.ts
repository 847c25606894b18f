import { halogen, idealColourBands, idealMonoBands, materialIds, whiteLed } from '../../planner/optics/index.ts';
import type { ContrastRequest, MaterialId } from '../../planner/optics/index.ts';
import type { ChipView, RunView } from '../../daemon/server/messages.ts';

/** Noise of one pixel, what the flat field leaves, and the terrace that is averaged over: as `nightjar contrast` takes them. */
const USUAL = { noise: 0.01, unevenness: 0.005, areaUm2: 50 };
const LAYERS = [0, 10] as const;

function isMaterial(name: string): name is MaterialId {
  return materialIds.some((id) => id === name);
}

/**
 * What optics is asked for one chip of tonight: its material on the oxide as the ladder found it, or as the box says before that, in
 * tonight's light, by an idealised camera of as many channels. `undefined` for a material without an index table.
 */
export function contrastRequestFor(run: RunView, chip: ChipView, materialName: string): ContrastRequest | undefined {
  if (!isMaterial(chip.material)) return undefined;
  const { light, calibrations, ladders } = run;
  const isMono = ladders[chip.name]?.[0]?.length === 1;
  return {
    materialName,
    material: chip.material,
    oxideNm: calibrations[chip.name]?.oxideNm ?? chip.oxideNm,
    numericalAperture: Math.min(light.numericalAperture, 0.99),
    lampName: light.lamp,
    lamp: light.lamp === 'halogen' ? halogen : whiteLed,
    camera: isMono ? idealMonoBands : idealColourBands,
    layers: LAYERS,
    ...USUAL,
    pixelUm: light.pixelUm,
  };
}
