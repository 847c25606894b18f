import { z } from 'zod';
import type { LabelledContrast, LabelSource } from '../../planner/layers/types.ts';
import { NightjarError } from '../errors/index.ts';
import { reader, writer } from './context.ts';
import type { RecordsContext } from './context.ts';
import { toJson } from './json.ts';
import { numbersColumn } from './shapes.ts';
import type { Circumstances, NewVerdict, VerdictCommit, VerdictRecord } from './verdictTypes.ts';

type Pending = Pick<VerdictCommit, 'given' | 'withdrawn'>;

const source = z.enum(['raman', 'afm', 'blindEye', 'shownEye']) satisfies z.ZodType<LabelSource>;

export const verdictRow = z
  .object({
    seq: z.number().int(),
    flake_id: z.string(),
    chip: z.string(),
    terrace: z.number().int().min(0),
    x_um: z.number(),
    y_um: z.number(),
    contrast: numbersColumn,
    contrast_error: numbersColumn,
    predicted_layers: z.number().int().nullable(),
    predicted_probability: z.number(),
    layers: z.number().int().min(1),
    source,
    initials: z.string(),
    note: z.string().nullable(),
    at_ms: z.number(),
    optical_path: z.string(),
    material: z.string(),
    substrate: z.string(),
    oxide_nm: z.number(),
    withdrawn_at_ms: z.number().nullable(),
  })
  .transform((row): VerdictRecord => ({
    seq: row.seq,
    flakeId: row.flake_id,
    chip: row.chip,
    terrace: row.terrace,
    atUm: { xUm: row.x_um, yUm: row.y_um },
    contrast: row.contrast,
    contrastError: row.contrast_error,
    predictedLayers: row.predicted_layers,
    predictedProbability: row.predicted_probability,
    layers: row.layers,
    source: row.source,
    initials: row.initials,
    ...(row.note === null ? {} : { note: row.note }),
    atMs: row.at_ms,
    under: { opticalPath: row.optical_path, material: row.material, substrate: row.substrate, oxideNm: row.oxide_nm },
    ...(row.withdrawn_at_ms === null ? {} : { withdrawnAtMs: row.withdrawn_at_ms }),
  }));

const inForce = `SELECT * FROM verdict WHERE withdrawn_at_ms IS NULL AND optical_path = ? AND material = ? AND substrate = ? AND oxide_nm = ? ORDER BY seq`;

/** Layer numbers that people gave. Rows are never removed: what is taken back is marked with the time. */
export function verdictTable(context: RecordsContext) {
  const insert = writer(context, `INSERT INTO verdict (run_id, flake_id, chip, terrace, x_um, y_um, contrast, contrast_error, predicted_layers, predicted_probability,
      layers, source, initials, note, at_ms, optical_path, material, substrate, oxide_nm)
    VALUES (@runId, @flakeId, @chip, @terrace, @xUm, @yUm, @contrast, @contrastError, @predictedLayers, @predictedProbability,
      @layers, @source, @initials, @note, @atMs, @opticalPath, @material, @substrate, @oxideNm)`);
  const withdraw = writer(context, 'UPDATE verdict SET withdrawn_at_ms = @atMs WHERE run_id = @runId AND seq = @seq AND withdrawn_at_ms IS NULL');
  const under = reader(context, 'verdict', verdictRow, inForce);

  return {
    insert(runId: string, verdict: NewVerdict): void {
      const { atUm, contrast, contrastError, under: circumstances, note, ...rest } = verdict;
      insert({ runId, ...rest, ...circumstances, ...atUm, contrast: toJson(contrast), contrastError: toJson(contrastError), note: note ?? null });
    },
    withdraw(runId: string, seq: number, atMs: number): void {
      if (withdraw({ runId, seq, atMs }) === 0) throw new NightjarError('internal', { reason: `verdict ${seq} is not in force` });
    },
    ofRun: reader(context, 'verdict', verdictRow, 'SELECT * FROM verdict WHERE run_id = ? ORDER BY seq'),
    labels(circumstances: Circumstances, pending: Pending = { given: [], withdrawn: [] }): readonly LabelledContrast[] {
      const { opticalPath, material, substrate, oxideNm } = circumstances;
      const kept = under(opticalPath, material, substrate, oxideNm).filter(({ seq }) => !pending.withdrawn.includes(seq));
      return [...kept, ...pending.given.filter((verdict) => isSame(verdict.under, circumstances))].map(labelOf);
    },
  };
}

function labelOf({ contrast, contrastError, layers, source: from }: NewVerdict): LabelledContrast {
  return { contrast, contrastError, layers, source: from };
}

function isSame(a: Circumstances, b: Circumstances): boolean {
  return a.opticalPath === b.opticalPath && a.material === b.material && a.substrate === b.substrate && a.oxideNm === b.oxideNm;
}
