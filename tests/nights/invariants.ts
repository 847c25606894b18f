import type { AttemptStory } from './attempt.ts';
import { flakeProblems } from './flakeRules.ts';
import type { NightStory } from './story.ts';

/** From one state to the next, as the run's drawing in DEVELOPERS.md has it: "from --> to" lines. */
export type Drawing = ReadonlySet<string>;

export function drawingOf(developers: string): Drawing {
  return new Set([...developers.matchAll(/^ {2}(\w+) --> (\w+) :/gm)].map(([, from, to]) => `${from} ${to}`));
}

/** The faults that somebody must be able to read of afterwards. Late answers, slow work and a clock that is set do no harm; frames that are taken again need not be told. */
const MUST_BE_TOLD = /^(stall[XYZ]|hitLimit|dropFrame|corruptFrame|(corruptReply|loseReply|hang|unplug):\w+|hangWork|crashWorker|loseWorkers|fillDisk)$/;
/** Kinds of events that tell of trouble. */
const TELLING: ReadonlySet<string> = new Set(['trouble', 'tile']);
const UNSAFE = /^The (\w+) could not be made safe/;

/** Every planned tile is recorded once, done or with a reason; nothing else is. */
export function tileProblems({ planned, tiles }: NightStory): readonly string[] {
  const count = new Map<number, number>();
  for (const { tile } of tiles) count.set(tile, (count.get(tile) ?? 0) + 1);
  const plan = new Set(planned.map(({ tile }) => tile));
  return [
    ...[...plan].filter((tile) => !count.has(tile)).map((tile) => `tile ${tile} is not recorded`),
    ...[...count].filter(([, times]) => times > 1).map(([tile]) => `tile ${tile} is recorded twice`),
    ...[...count.keys()].filter((tile) => !plan.has(tile)).map((tile) => `tile ${tile} was never planned`),
    ...tiles.filter(({ outcome, reason }) => outcome === 'skipped' && !reason).map(({ tile }) => `tile ${tile} was skipped without a reason`),
  ];
}

/** It ended: finished at last; every park with a cause; never hung, and Nightjar itself never failed. */
export function endProblems({ attempts, transitions }: NightStory): readonly string[] {
  const problems = attempts.flatMap(({ end, cause, odd }, n) => [
    ...(end === 'hung' ? [`attempt ${n + 1} hung: ${cause}`] : []),
    ...(end === 'failed' && cause !== 'noProgress' ? [`attempt ${n + 1} failed: ${cause}`] : []),
    ...(cause === '' ? [`attempt ${n + 1} is ${end} without a cause`] : []),
    ...odd.map((what) => `attempt ${n + 1}: ${what}`),
  ]);
  const last = attempts.at(-1);
  // A process may be ended after the night was, on the way to its own end.
  const isFinished = last?.end === 'finished' || (last?.end === 'died' && transitions.at(-1)?.state === 'finished');
  return isFinished ? problems : [...problems, `with everything mended it is still ${last?.end ?? 'not begun'}: ${last?.cause ?? ''}`];
}

/** Objective up and light off at every end that is the run's own; or it was told of which device that could not be reached. */
function unsafeAt({ end, left, events }: AttemptStory, safeHeightUm: number): readonly string[] {
  if (end === 'died' || end === 'hung') return [];
  const told = new Set(events.flatMap(({ text }) => UNSAFE.exec(text)?.[1] ?? []));
  return [
    ...(left.zUm < safeHeightUm && !told.has('focus') ? [`${end} (not told of) with the objective at ${left.zUm.toFixed(0)} um`] : []),
    ...(left.lampIntensity > 0 && !told.has('lamp') ? [`${end} (not told of) with the lamp at ${left.lampIntensity}`] : []),
  ];
}

export function safetyProblems({ attempts, safeHeightUm }: NightStory): readonly string[] {
  return attempts.flatMap((attempt, n) => [...attempt.forbidden.map((command) => `forbidden: ${command}`), ...unsafeAt(attempt, safeHeightUm)].map((what) => `attempt ${n + 1}: ${what}`));
}

export function recordProblems({ verified: { sound, problems } }: NightStory): readonly string[] {
  return sound ? [] : [`the records do not verify: ${problems.map(({ kind, where, what }) => `${kind} ${where}: ${what}`).join('; ')}`];
}

/** Each change of state is one of the drawing's, with a cause and a time; a night that goes on begins at preflight again. */
export function transitionProblems({ transitions }: NightStory, drawing: Drawing): readonly string[] {
  return transitions.flatMap(({ state, cause, atMs }, n) => {
    const before = transitions[n - 1];
    const isBegin = state === 'preflight' && (before === undefined || cause === 'resumed');
    const isDrawn = before !== undefined && drawing.has(`${before.state} ${state}`);
    return [
      ...(isBegin || isDrawn ? [] : [`from ${before?.state ?? 'nothing'} to ${state} (${cause}): no such arrow`]),
      ...(cause === '' || !Number.isFinite(atMs) ? [`to ${state} without a cause or a time`] : []),
    ];
  });
}

/** No fault that struck goes by without a word in its own attempt: an event, or a park with its cause; unless the process ended before it could be said. */
export function silenceProblems({ attempts }: NightStory): readonly string[] {
  return attempts.flatMap(({ end, events, struck, cause }, n) => {
    const isTold = events.some(({ kind }) => TELLING.has(kind)) || end === 'died' || (end === 'parked' && cause !== '');
    return isTold ? [] : Object.keys(struck).filter((kind) => MUST_BE_TOLD.test(kind)).map((kind) => `attempt ${n + 1}: ${kind} struck ${struck[kind]} times, and nobody was told`);
  });
}

/** Everything that is wrong with a night; nothing when it kept every promise. */
export function problemsOf(story: NightStory, drawing: Drawing): readonly string[] {
  return [
    ...endProblems(story),
    ...tileProblems(story),
    ...flakeProblems(story),
    ...safetyProblems(story),
    ...recordProblems(story),
    ...transitionProblems(story, drawing),
    ...silenceProblems(story),
  ];
}
