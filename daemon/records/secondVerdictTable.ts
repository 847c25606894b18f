import { z } from 'zod';
import type { LabelSource } from '../../planner/layers/types.ts';
import { NightjarError } from '../errors/index.ts';
import { reader, writer, type RecordsContext } from './context.ts';
import type { NewSecondVerdict, SecondVerdict } from './secondVerdictTypes.ts';

/** A second number as its own table keeps it. */
export const secondVerdictRow = z.object({
  seq: z.number().int(),
  first_seq: z.number().int(),
  layers: z.number().int().min(1),
  source: z.enum(['raman', 'afm', 'blindEye', 'shownEye']) satisfies z.ZodType<LabelSource>,
  initials: z.string(),
  at_ms: z.number(),
  withdrawn_at_ms: z.number().nullable(),
});

/** The same with the first number beside it. */
const row = secondVerdictRow
  .extend({ first_layers: z.number().int().min(1), first_at_ms: z.number() })
  .transform((each): SecondVerdict => ({
    seq: each.seq,
    firstSeq: each.first_seq,
    layers: each.layers,
    source: each.source,
    initials: each.initials,
    atMs: each.at_ms,
    first: { layers: each.first_layers, atMs: each.first_at_ms },
    ...(each.withdrawn_at_ms === null ? {} : { withdrawnAtMs: each.withdrawn_at_ms }),
  }));

const withFirst = 'SELECT second_verdict.*, verdict.layers AS first_layers, verdict.at_ms AS first_at_ms FROM second_verdict JOIN verdict ON verdict.seq = second_verdict.first_seq';

/** Numbers given for the second time. Rows are never removed: what is taken back is marked with the time. */
export function secondVerdictTable(context: RecordsContext) {
  const insert = writer(context, 'INSERT INTO second_verdict (run_id, first_seq, layers, source, initials, at_ms) VALUES (@runId, @firstSeq, @layers, @source, @initials, @atMs)');
  const latest = context.db.prepare('SELECT max(seq) FROM second_verdict').pluck();
  const withdraw = writer(context, 'UPDATE second_verdict SET withdrawn_at_ms = @atMs WHERE run_id = @runId AND seq = @seq AND withdrawn_at_ms IS NULL');
  const ofRun = reader(context, 'second_verdict', row, `${withFirst} WHERE second_verdict.run_id = ? ORDER BY second_verdict.seq`);
  const all = reader(context, 'second_verdict', row, `${withFirst} ORDER BY second_verdict.seq`);
  return {
    insert(runId: string, verdict: NewSecondVerdict): number {
      insert({ runId, ...verdict });
      return Number(latest.get());
    },
    withdraw(runId: string, seq: number, atMs: number): void {
      if (withdraw({ runId, seq, atMs }) === 0) throw new NightjarError('internal', { reason: `second verdict ${seq} is not in force` });
    },
    of: (runId?: string): readonly SecondVerdict[] => (runId === undefined ? all() : ofRun(runId)),
  };
}
