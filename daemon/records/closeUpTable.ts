import { z } from 'zod';
import type { CloseUpPicture, CloseUpRecord } from './closeUpTypes.ts';
import { reader, writer, type RecordsContext } from './context.ts';
import { toJson } from './json.ts';
import { closeUpPictureColumn, closeUpTerracesColumn, number } from './shapes.ts';

export const closeUpRow = z
  .object({
    flake_id: z.string(),
    chip: z.string(),
    optical_path: z.string(),
    outcome: z.enum(['done', 'skipped']),
    reason: z.string().nullable(),
    taken_at_ms: number,
    took_ms: number,
    x_um: number.nullable(),
    y_um: number.nullable(),
    z_um: number.nullable(),
    sharpness: number.nullable(),
    least_sharpness: number.nullable(),
    picture: closeUpPictureColumn.nullable(),
    terraces: closeUpTerracesColumn,
  })
  .transform((row, context): CloseUpRecord => {
    const end = { flakeId: row.flake_id, chip: row.chip, opticalPath: row.optical_path, takenAtMs: row.taken_at_ms, tookMs: row.took_ms };
    if (row.outcome === 'skipped') return { ...end, outcome: 'skipped', reason: row.reason ?? '' };
    if (row.picture === null) {
      context.addIssue({ code: 'custom', message: 'a close-up without its picture' });
      return z.NEVER;
    }
    return {
      ...end,
      outcome: 'done',
      centreUm: { xUm: row.x_um ?? Number.NaN, yUm: row.y_um ?? Number.NaN },
      zUm: row.z_um ?? Number.NaN,
      sharpness: row.sharpness ?? Number.NaN,
      leastSharpness: row.least_sharpness ?? Number.NaN,
      picture: row.picture,
      terraces: row.terraces,
    };
  });

function columns(runId: string, closeUp: CloseUpRecord): Readonly<Record<string, unknown>> {
  const { flakeId, chip, opticalPath, outcome, takenAtMs, tookMs } = closeUp;
  const head = { runId, flakeId, chip, opticalPath, outcome, takenAtMs, tookMs };
  if (closeUp.outcome === 'skipped') {
    return { ...head, reason: closeUp.reason, xUm: null, yUm: null, zUm: null, sharpness: null, leastSharpness: null, picture: null, terraces: '[]' };
  }
  const { centreUm, zUm, sharpness, leastSharpness, picture, terraces } = closeUp;
  return { ...head, reason: null, ...centreUm, zUm, sharpness, leastSharpness, picture: toJson(picture), terraces: toJson(terraces) };
}

/** The files that a close-up names. */
export function closeUpFiles(closeUp: CloseUpRecord): readonly string[] {
  return closeUp.outcome === 'done' ? filesOf(closeUp.picture) : [];
}

function filesOf({ file, rawFile }: CloseUpPicture): readonly string[] {
  return [file, rawFile];
}

/** Flakes looked at again, each once under an optical path: the key of the table sees to that. */
export function closeUpTable(context: RecordsContext) {
  const insert = writer(context, `INSERT INTO close_up (run_id, flake_id, chip, optical_path, outcome, reason, taken_at_ms, took_ms, x_um, y_um, z_um, sharpness, least_sharpness, picture, terraces)
    VALUES (@runId, @flakeId, @chip, @opticalPath, @outcome, @reason, @takenAtMs, @tookMs, @xUm, @yUm, @zUm, @sharpness, @leastSharpness, @picture, @terraces)`);
  return {
    insert(runId: string, closeUp: CloseUpRecord): void {
      insert(columns(runId, closeUp));
    },
    ofRun: reader(context, 'close_up', closeUpRow, 'SELECT * FROM close_up WHERE run_id = ? ORDER BY seq'),
    ofFlake: reader(context, 'close_up', closeUpRow, 'SELECT * FROM close_up WHERE run_id = ? AND flake_id = ? ORDER BY seq'),
  };
}
