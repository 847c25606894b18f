import type { RunState, TransitionRecord } from '../types.ts';
import type { Problem } from './problem.ts';

/** What may follow when a night begins or goes on: instruments are made ready, or cannot be. */
const fromTheStart: readonly RunState[] = ['scanning', 'waiting', 'recovering', 'paused', 'parked', 'failed'];
/** A night that goes on is made ready first; older records do not write that down until it has come to something. */
const goesOn: readonly RunState[] = ['preflight', ...fromTheStart];

/**
 * States that may follow each state in the records: those of the run's machine (older records leave `waiting` out), and `failed` for a
 * night that was cut off. Only a finished night never goes on.
 */
const following: Readonly<Record<RunState, readonly RunState[]>> = {
  preflight: fromTheStart,
  scanning: ['waiting', 'paused', 'recovering', 'parked', 'finished', 'failed'],
  waiting: ['scanning', 'paused', 'recovering', 'parked', 'finished', 'failed'],
  paused: ['preflight', 'scanning', 'recovering', 'parked', 'failed'],
  recovering: ['preflight', 'scanning', 'waiting', 'paused', 'recovering', 'parked', 'finished', 'failed'],
  parked: goesOn,
  failed: goesOn,
  finished: [],
};

/** Whoever goes on need not have marked the night as cut off: it is made ready again from whatever state it was in. */
function isReadyAgain({ state, cause }: TransitionRecord): boolean {
  return (state === 'preflight' && cause === 'resumed') || (state === 'scanning' && cause === 'prepared') || state === 'recovering';
}

function mayFollow(before: TransitionRecord, after: TransitionRecord): boolean {
  return following[before.state].includes(after.state) || (before.state !== 'finished' && isReadyAgain(after));
}

/** Checks that a night's states begin with the preflight, follow from each other, and end with the state that the night says it is in. */
export function judgeStory(runId: string, state: RunState, transitions: readonly TransitionRecord[]): Problem[] {
  const problem = (what: string): Problem => ({ kind: 'story', where: `night ${runId}`, what });
  const [first] = transitions;
  const last = transitions.at(-1);
  if (!first || !last) return [problem('no state was ever written down')];
  const found: Problem[] = [];
  if (first.state !== 'preflight') found.push(problem(`it begins with "${first.state}", not with "preflight"`));
  transitions.forEach((after, n) => {
    const before = transitions[n - 1];
    if (before && !mayFollow(before, after)) found.push(problem(`"${after.state}" (${after.cause}) cannot follow "${before.state}" (${before.cause}), change ${n + 1} of ${transitions.length}`));
  });
  if (last.state !== state) found.push(problem(`it says that it is "${state}", but its last change was to "${last.state}"`));
  return found;
}
