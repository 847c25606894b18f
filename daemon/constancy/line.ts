import { nightSentence } from '../knownFlake/words.ts';
import { steadinessOfNight, type NightSteadiness } from '../knownFlake/steadiness.ts';
import type { Records } from '../records/types.ts';
import { agreementSentences } from '../secondJudging/words.ts';

/** How steady the instrument was in a night, and how steady people are in judging. */
export interface Constancy {
  /** All of it in one line; empty where the night went to no known flake and nothing was judged twice in any night. */
  readonly line: string;
  /** Left out where the night went to none. */
  readonly knownFlake?: NightSteadiness;
}

/** Of one night's known flake; judging is that of all nights of the data folder, since few flakes a night come up again. */
export function constancyOf(records: Pick<Records, 'knownFlake' | 'knownFlakeBefore' | 'secondVerdicts'>, runId: string): Constancy {
  const knownFlake = steadinessOfNight(records, runId);
  const line = [...(knownFlake ? [nightSentence(knownFlake)] : []), ...agreementSentences(records.secondVerdicts())].join(' ');
  return { line, ...(knownFlake ? { knownFlake } : {}) };
}
