import { z } from 'zod';
import { NightjarError } from '../errors/index.ts';
import { reader, writer } from './context.ts';
import type { RecordsContext } from './context.ts';
import { frameFaults } from '../vision/types.ts';
import { toJson } from './json.ts';
import { detectionsColumn, number, numbersColumn } from './shapes.ts';
import type { StoredFile, TileHead, TileRecord } from './types.ts';

const headRow = z.object({
  tile: z.number().int(),
  chip: z.string(),
  outcome: z.enum(['done', 'skipped']),
  reason: z.string().nullable(),
  fault: z.enum(frameFaults).nullable(),
  x_um: number,
  y_um: number,
  z_um: number,
  taken_at_ms: number,
  sharpness: number.nullable(),
  substrate: numbersColumn,
  picture_file: z.string().nullable(),
});
export const tileRow = headRow.extend({ detections: detectionsColumn }).transform((row): TileRecord => ({ ...headOf(row), detections: row.detections }));
const headSql = 'SELECT tile, chip, outcome, reason, fault, x_um, y_um, z_um, taken_at_ms, sharpness, substrate, picture_file FROM tile';

function headOf(row: z.infer<typeof headRow>): TileHead {
  return {
    tile: row.tile,
    chip: row.chip,
    outcome: row.outcome,
    ...(row.reason === null ? {} : { reason: row.reason }),
    ...(row.fault === null ? {} : { fault: row.fault }),
    centreUm: { xUm: row.x_um, yUm: row.y_um },
    zUm: row.z_um,
    takenAtMs: row.taken_at_ms,
    sharpness: row.sharpness ?? Number.NaN,
    substrate: row.substrate,
    ...(row.picture_file === null ? {} : { pictureFile: row.picture_file }),
  };
}

function columns(runId: string, tile: TileRecord): Readonly<Record<string, unknown>> {
  return {
    runId,
    tile: tile.tile,
    chip: tile.chip,
    outcome: tile.outcome,
    reason: tile.reason ?? null,
    fault: tile.fault ?? null,
    xUm: tile.centreUm.xUm,
    yUm: tile.centreUm.yUm,
    zUm: tile.zUm,
    takenAtMs: tile.takenAtMs,
    // SQLite has no "not a number": it is kept as NULL and comes back as NaN.
    sharpness: Number.isNaN(tile.sharpness) ? null : tile.sharpness,
    substrate: toJson(tile.substrate),
    pictureFile: tile.pictureFile ?? null,
    detections: toJson(tile.detections),
  };
}

export const fileRow = z.object({ path: z.string(), bytes: z.number().int(), sha256: z.string() }).transform((row): StoredFile => ({ file: row.path, bytes: row.bytes, sha256: row.sha256 }));

/** Tiles, each once, and the files that records name. */
export function tileTable(context: RecordsContext) {
  const insert = writer(context, `INSERT INTO tile (run_id, tile, chip, outcome, reason, fault, x_um, y_um, z_um, taken_at_ms, sharpness, substrate, picture_file, detections)
    VALUES (@runId, @tile, @chip, @outcome, @reason, @fault, @xUm, @yUm, @zUm, @takenAtMs, @sharpness, @substrate, @pictureFile, @detections)`);
  const has = context.db.prepare('SELECT 1 FROM tile WHERE run_id = ? AND tile = ?').pluck();
  const counted = context.db.prepare('SELECT count(*) FROM tile WHERE run_id = ?').pluck();
  const oneTile = reader(context, 'tile', tileRow, 'SELECT * FROM tile WHERE run_id = ? AND tile = ?');
  const upsertFile = writer(context, `INSERT INTO file (path, run_id, bytes, sha256) VALUES (@file, @runId, @bytes, @sha256)
    ON CONFLICT (path) DO UPDATE SET bytes = excluded.bytes, sha256 = excluded.sha256`);

  return {
    insert(runId: string, tile: TileRecord): void {
      if (has.get(runId, tile.tile) !== undefined) throw new NightjarError('alreadyRecorded', { tile: tile.tile });
      insert(columns(runId, tile));
    },
    keepFile(runId: string, file: StoredFile): void {
      upsertFile({ runId, ...file });
    },
    count: (runId: string): number => Number(counted.get(runId)),
    one: (runId: string, tile: number): TileRecord | undefined => oneTile(runId, tile)[0],
    heads: reader(context, 'tile', headRow.transform(headOf), `${headSql} WHERE run_id = ? ORDER BY tile`),
    ofRun: reader(context, 'tile', tileRow, 'SELECT * FROM tile WHERE run_id = ? ORDER BY tile'),
    files: reader(context, 'file', fileRow, 'SELECT * FROM file WHERE run_id = ? ORDER BY path'),
  };
}
