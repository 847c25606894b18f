import type { CloseUpRecord, RunState, TileRecord, TransitionRecord } from '../records/types.ts';
import { reasonWords } from '../run/sentences.ts';
import type { NightCourse } from './types.ts';

/** What a run's states are called as waits. */
const waits: readonly (readonly [state: RunState, what: string])[] = [
  ['waiting', 'for the classifier'],
  ['recovering', 'to get over trouble'],
  ['paused', 'while a person had paused it'],
];

/** In these it does not run: the time after them, until it goes on, is no part of the night. */
const atRest: ReadonlySet<RunState> = new Set(['parked', 'failed', 'finished']);

export interface CourseParts {
  readonly forecastS: number;
  readonly transitions: readonly TransitionRecord[];
  readonly tiles: readonly Pick<TileRecord, 'outcome' | 'reason'>[];
  readonly closeUps: readonly Pick<CloseUpRecord, 'outcome'>[];
}

/** How a night went, from its records alone: so it holds for a night that was cut off and went on, too. */
export function courseOf({ forecastS, transitions, tiles, closeUps }: CourseParts): NightCourse {
  const spans = transitions.flatMap(({ state, atMs }, n) => {
    const until = transitions[n + 1]?.atMs;
    return until === undefined || atRest.has(state) ? [] : [{ state, seconds: Math.max(0, until - atMs) / 1000 }];
  });
  const sumOf = (wanted: (state: RunState) => boolean): number => spans.reduce((sum, { state, seconds }) => (wanted(state) ? sum + seconds : sum), 0);
  const done = closeUps.filter(({ outcome }) => outcome === 'done').length;
  return {
    forecastS,
    tookS: sumOf(() => true),
    waits: waits.flatMap(([state, what]) => {
      const seconds = sumOf((each) => each === state);
      return seconds >= 1 ? [{ what, seconds }] : [];
    }),
    skipped: skippedBy(tiles),
    closeUpsDone: done,
    closeUpsSkipped: closeUps.length - done,
  };
}

function skippedBy(tiles: CourseParts['tiles']): NightCourse['skipped'] {
  const counts = new Map<string, number>();
  for (const { outcome, reason } of tiles) {
    if (outcome !== 'skipped') continue;
    const words = reason === undefined ? 'no reason was recorded' : reasonWords(reason);
    counts.set(words, (counts.get(words) ?? 0) + 1);
  }
  return [...counts].map(([reason, count]) => ({ reason, tiles: count })).sort((a, b) => b.tiles - a.tiles || (a.reason < b.reason ? -1 : 1));
}
