import { z } from 'zod';
import { reader, writer, type RecordsContext } from './context.ts';
import { toJson } from './json.ts';
import type { KnownFlakeRecords, KnownFlakeVisit } from './knownFlakeTypes.ts';
import { number, numbersColumn } from './shapes.ts';

/** A visit as the table keeps it. */
export const knownFlakeRow = z
  .object({
    moment: z.enum(['first', 'last']),
    name: z.string(),
    light: z.string(),
    exposure_ms: number,
    taken_at_ms: number,
    outcome: z.enum(['found', 'notFound']),
    reason: z.string().nullable(),
    offset_x_um: number.nullable(),
    offset_y_um: number.nullable(),
    contrast: numbersColumn,
    contrast_error: numbersColumn,
    level: numbersColumn,
    z_um: number.nullable(),
    area_um2: number.nullable(),
    sharpness: number.nullable(),
  })
  .transform((each): KnownFlakeVisit => {
    const end = { moment: each.moment, name: each.name, light: each.light, exposureMs: each.exposure_ms, takenAtMs: each.taken_at_ms };
    if (each.outcome === 'notFound') return { ...end, outcome: 'notFound', reason: each.reason ?? '' };
    return {
      ...end,
      outcome: 'found',
      offsetUm: { xUm: each.offset_x_um ?? Number.NaN, yUm: each.offset_y_um ?? Number.NaN },
      contrast: each.contrast,
      contrastError: each.contrast_error,
      level: each.level,
      zUm: each.z_um ?? Number.NaN,
      areaUm2: each.area_um2 ?? Number.NaN,
      sharpness: each.sharpness ?? Number.NaN,
    };
  });

function columns(runId: string, visit: KnownFlakeVisit): Readonly<Record<string, unknown>> {
  const { moment, name, light, exposureMs, takenAtMs, outcome } = visit;
  const head = { runId, moment, name, light, exposureMs, takenAtMs, outcome };
  if (visit.outcome === 'notFound') return { ...head, reason: visit.reason, xUm: null, yUm: null, contrast: '[]', contrastError: '[]', level: '[]', zUm: null, areaUm2: null, sharpness: null };
  const { offsetUm, contrast, contrastError, level, zUm, areaUm2, sharpness } = visit;
  return { ...head, reason: null, ...offsetUm, contrast: toJson(contrast), contrastError: toJson(contrastError), level: toJson(level), zUm, areaUm2, sharpness };
}

/** Of each earlier night the visit of this moment; nights in the order in which they were begun. */
const before = `
  SELECT known_flake.* FROM known_flake JOIN run ON run.id = known_flake.run_id
  WHERE outcome = 'found' AND name = ? AND light = ? AND moment = ? AND run.seq < (SELECT seq FROM run WHERE id = ?)
  ORDER BY run.seq DESC LIMIT ?`;

/** Visits to the known flake, one for each night and moment: the key of the table sees to that. */
export function knownFlakeTable(context: RecordsContext) {
  const put = writer(context, `INSERT OR REPLACE INTO known_flake (run_id, moment, name, light, exposure_ms, taken_at_ms, outcome, reason, offset_x_um, offset_y_um, contrast, contrast_error, level, z_um, area_um2, sharpness)
    VALUES (@runId, @moment, @name, @light, @exposureMs, @takenAtMs, @outcome, @reason, @xUm, @yUm, @contrast, @contrastError, @level, @zUm, @areaUm2, @sharpness)`);
  const found = reader(context, 'known_flake', knownFlakeRow, before);
  return {
    put(runId: string, visit: KnownFlakeVisit): void {
      put(columns(runId, visit));
    },
    ofRun: reader(context, 'known_flake', knownFlakeRow, 'SELECT * FROM known_flake WHERE run_id = ? ORDER BY moment'),
    before: ((runId, { name, light, moment }, most) => found(name, light, moment, runId, most).filter((visit) => visit.outcome === 'found')) satisfies KnownFlakeRecords['knownFlakeBefore'],
  };
}
