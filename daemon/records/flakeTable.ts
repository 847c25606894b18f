import { z } from 'zod';
import type { Flake } from '../../planner/flakes/types.ts';
import { reader, writer } from './context.ts';
import type { RecordsContext } from './context.ts';
import { toJson } from './json.ts';
import { flakeColumn, matrixColumn } from './shapes.ts';
import type { CropRecord, FlakeHead } from './types.ts';

export const flakeRow = z.object({ id: z.string(), flake: flakeColumn }).transform((row): Flake => row.flake);

const headRow = z
  .object({ id: z.string(), verdict: z.enum(['flagged', 'thick', 'rejected']), reject: z.string().nullable() })
  .transform(({ id, verdict, reject }): FlakeHead => ({ id, verdict, ...(reject === null ? {} : { reject }) }));
/** The rejection is only in the flake's own text. */
const headSql = "SELECT id, verdict, json_extract(flake, '$.reject') AS reject FROM flake WHERE run_id = ?";

export const cropRow = z
  .object({
    flake_id: z.string(),
    tile: z.number().int(),
    file: z.string(),
    width_px: z.number().int(),
    height_px: z.number().int(),
    x_um: z.number(),
    y_um: z.number(),
    camera_to_stage_um: matrixColumn,
  })
  .transform((row): CropRecord => ({
    flakeId: row.flake_id,
    tile: row.tile,
    file: row.file,
    widthPx: row.width_px,
    heightPx: row.height_px,
    centreUm: { xUm: row.x_um, yUm: row.y_um },
    cameraToStageUm: row.camera_to_stage_um,
  }));

/** A column that is searched by; what is not a finite number cannot be. */
function searchable(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null;
}

/** Flakes as they were last read, and one crop of each. */
export function flakeTable(context: RecordsContext) {
  const upsert = writer(context, `INSERT INTO flake (run_id, id, chip, verdict, layers, usable_um, area_um2, rank, flake)
    VALUES (@runId, @id, @chip, @verdict, @layers, @usableUm, @areaUm2, @rank, @flake)
    ON CONFLICT (run_id, id) DO UPDATE SET chip = excluded.chip, verdict = excluded.verdict, layers = excluded.layers, usable_um = excluded.usable_um,
      area_um2 = excluded.area_um2, rank = excluded.rank, flake = excluded.flake`);
  const remove = writer(context, 'DELETE FROM flake WHERE run_id = @runId AND id = @id');
  const removeCrop = writer(context, 'DELETE FROM crop WHERE run_id = @runId AND flake_id = @id');
  const insertCrop = writer(context, `INSERT INTO crop (run_id, flake_id, tile, file, width_px, height_px, x_um, y_um, camera_to_stage_um)
    VALUES (@runId, @flakeId, @tile, @file, @widthPx, @heightPx, @xUm, @yUm, @cameraToStageUm)`);
  const crops = reader(context, 'crop', cropRow, 'SELECT * FROM crop WHERE run_id = ? AND flake_id = ?');
  const one = reader(context, 'flake', flakeRow, 'SELECT * FROM flake WHERE run_id = ? AND id = ?');

  return {
    put(runId: string, flake: Flake): void {
      const { id, chip, verdict, layers, usableUm, areaUm2, rank } = flake;
      upsert({ runId, id, chip, verdict, layers, usableUm: searchable(usableUm), areaUm2: searchable(areaUm2), rank: searchable(rank), flake: toJson(flake) });
    },
    /** The flake goes with its crop; the crop's file stays on the disk and in the records. */
    remove(runId: string, id: string): void {
      removeCrop({ runId, id });
      remove({ runId, id });
    },
    /** Replaces the flake's crop: a better frame has shown it. */
    putCrop(runId: string, crop: CropRecord): void {
      const { centreUm, cameraToStageUm, ...rest } = crop;
      removeCrop({ runId, id: crop.flakeId });
      insertCrop({ runId, ...rest, xUm: centreUm.xUm, yUm: centreUm.yUm, cameraToStageUm: toJson(cameraToStageUm) });
    },
    cropOf: (runId: string, flakeId: string): CropRecord | undefined => crops(runId, flakeId)[0],
    one: (runId: string, id: string): Flake | undefined => one(runId, id)[0],
    heads: reader(context, 'flake', headRow, `${headSql} ORDER BY rowid`),
    headsOfChip: reader(context, 'flake', headRow, `${headSql} AND chip = ? ORDER BY rowid`),
    ofRun: reader(context, 'flake', flakeRow, 'SELECT * FROM flake WHERE run_id = ? ORDER BY rowid'),
  };
}
