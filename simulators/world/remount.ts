import type { StagePoint } from '../../planner/units/index.ts';
import { boxAround } from './shapes.ts';
import type { Blemish, World, WorldChip } from './types.ts';

/** How a chip was taken off the stage and laid down again: turned about its middle, then shifted. */
export interface Remounting {
  readonly turnDeg: number;
  readonly shiftUm: StagePoint;
}

/** The same chips, those that are named lying elsewhere: flakes, dirt and bow go with them. */
export function remountedWorld(world: World, remountings: Readonly<Record<string, Remounting>>): World {
  return { ...world, chips: world.chips.map((chip) => {
    const remounting = Object.hasOwn(remountings, chip.name) ? remountings[chip.name] : undefined;
    return remounting ? remountedChip(chip, remounting) : chip;
  }) };
}

function remountedChip(chip: WorldChip, { turnDeg, shiftUm }: Remounting): WorldChip {
  const turnRad = (turnDeg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turnRad), Math.sin(turnRad)];
  const { centreUm } = chip;
  const move = (p: StagePoint): StagePoint => {
    const [dx, dy] = [p.xUm - centreUm.xUm, p.yUm - centreUm.yUm];
    return { xUm: centreUm.xUm + shiftUm.xUm + dx * cos - dy * sin, yUm: centreUm.yUm + shiftUm.yUm + dx * sin + dy * cos };
  };
  return {
    ...chip,
    centreUm: move(centreUm),
    angleDeg: chip.angleDeg + turnDeg,
    outlineUm: chip.outlineUm.map(move),
    flakes: chip.flakes.map(({ terraces }) => ({ terraces: terraces.map((terrace) => ({ ...terrace, outlineUm: terrace.outlineUm.map(move) })) })),
    blemishes: chip.blemishes.map((blemish) => remountedBlemish(blemish, move, turnRad)),
  };
}

function remountedBlemish(blemish: Blemish, move: (p: StagePoint) => StagePoint, turnRad: number): Blemish {
  if (blemish.kind === 'stripe') {
    const outlineUm = blemish.outlineUm.map(move);
    return { ...blemish, outlineUm, box: boxAround(outlineUm) };
  }
  const centreUm = move(blemish.centreUm);
  const reachUm = (blemish.box.xMaxUm - blemish.box.xMinUm) / 2;
  return { ...blemish, centreUm, box: boxAround([centreUm], reachUm), turnRad: (blemish.turnRad ?? 0) + turnRad };
}
