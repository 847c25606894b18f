import type { GreyPicture } from '../../planner/frames/greyPicture.ts';
import { measureShift } from '../../planner/frames/phaseCorrelation.ts';
import { apply2, type StagePoint } from '../../planner/units/index.ts';
import { goTo, look, refuse, type Bench, type Procedure } from './bench.ts';
import type { Level } from './level.ts';

/** Of the field's shorter side. */
const moveShare = 0.1;
/** The picture must go where the matrix says within this share of the move, and the stage's own scatter. */
const allowedShare = 0.1;
const scatterUm = 4;

/**
 * One move along each axis: the picture must go where the file's matrix says, or what is read off it would be told of the wrong axis.
 * Comes back to the place. Throws `calibrationRefused` when it does not, or cannot be matched.
 */
export async function checkMatrix(bench: Bench, procedure: Procedure, reference: GreyPicture, level: Level): Promise<void> {
  const { atUm, path, config } = bench;
  const moveUm = moveShare * path.pixelUm * Math.min(config.camera.widthPx, config.camera.heightPx);
  for (const by of [{ xUm: moveUm, yUm: 0 }, { xUm: 0, yUm: moveUm }] satisfies readonly StagePoint[]) {
    const target = { xUm: atUm.xUm + by.xUm, yUm: atUm.yUm + by.yUm };
    await goTo(bench, target);
    const match = measureShift(reference, await look(bench, level));
    if (!match.ok) return refuse(procedure, { code: 'tooLittleTexture', matched: 0, of: 2, least: 2 });
    const [dx, dy] = apply2(path.cameraToStageUm, match.shift.colPx, match.shift.rowPx);
    const isAsSaid = Math.hypot(-dx - by.xUm, -dy - by.yUm) <= allowedShare * moveUm + scatterUm;
    if (!isAsSaid) refuse(procedure, { code: 'otherMatrix', movedUm: [by.xUm, by.yUm], shownUm: [-dx, -dy] });
  }
  await goTo(bench, atUm);
}
