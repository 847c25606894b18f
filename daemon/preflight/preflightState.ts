import type { Finding } from '../doctor/finding.ts';
import { stopped } from '../errors/words.ts';
import type { PreflightCheckView, PreflightView } from '../server/messages.ts';
import { readinessOf, reminders, type Progress } from './preflight.ts';
import { readinessSentence } from './words.ts';

/**
 * So long a readiness holds. Lamp and room drift, and somebody may have been at the instrument; a person who goes through the reminders
 * needs a few minutes, not more (common practice, no source).
 */
export const READINESS_HOLDS_MS = 30 * 60_000;

/** The checks before a night as they stand. All times ms since 1970. */
export interface PreflightState {
  readonly names: readonly string[];
  /** What each check found, by its place in `names`. */
  readonly found: readonly (readonly Finding[])[];
  readonly done: number;
  /** Places of checks that could not be made. */
  readonly passedOver: readonly number[];
  readonly phase: 'checking' | 'stopped' | 'done' | 'started';
  /** When the checks came to their end. */
  readonly endedAtMs?: number;
}

/** Nothing has been looked at yet. */
export function freshState(names: readonly string[]): PreflightState {
  return { names, found: names.map(() => []), done: 0, passedOver: [], phase: 'checking' };
}

/** Takes in how far the checks are; what is new belongs to the check that was just looked at. */
export function progressed(state: PreflightState, { findings, done, passedOver = [], now }: Progress, nowMs: number): PreflightState {
  const fresh = findings.slice(state.found.flat().length);
  const at = Math.max(0, done - 1);
  const found = state.found.map((before, index) => (index === at ? [...before, ...fresh] : before));
  return { ...state, found, done, passedOver, ...(now ? {} : { phase: 'done', endedAtMs: nowMs }) };
}

/** Whether the night may begin, at a moment: what was found long ago holds no longer. Undefined while it is looked. */
export function readinessAt({ phase, found, endedAtMs }: PreflightState, nowMs: number): PreflightView['readiness'] {
  if (phase === 'stopped') return 'notReady';
  if (phase !== 'done') return undefined;
  const readiness = readinessOf(found.flat());
  return readiness !== 'notReady' && nowMs - (endedAtMs ?? 0) > READINESS_HOLDS_MS ? 'aged' : readiness;
}

/** How it stands, in one sentence. */
export function sentenceAt(state: PreflightState, nowMs: number): string {
  if (state.phase === 'started') return 'The night begins.';
  if (state.phase === 'stopped') {
    const bad = state.found.flat().find(({ verdict }) => verdict === 'toMend');
    return `Stopped. The checks did not come to their end, so nothing says that the night may begin.${bad ? ` Look at ${bad.check}: ${stopped(bad.seen)}` : ''}`;
  }
  const readiness = readinessAt(state, nowMs);
  if (readiness === undefined) return `Check ${Math.min(state.done + 1, state.names.length)} of ${state.names.length}: ${state.names[state.done] ?? 'the last'}.`;
  if (readiness === 'aged') return `It was ready more than ${READINESS_HOLDS_MS / 60_000} minutes ago. Lamp and room may have changed since: check again.`;
  return readinessSentence(readiness, state.found.flat());
}

/** What the page shows. */
export function viewAt(state: PreflightState, nowMs: number, { title, doneAtMs }: Pick<PreflightView, 'title' | 'doneAtMs'>): PreflightView {
  const readiness = readinessAt(state, nowMs);
  const checks = state.names.map((name, index): PreflightCheckView => ({ name, isDone: index < state.done && !state.passedOver.includes(index), isNow: state.phase === 'checking' && index === state.done, findings: state.found[index] ?? [] }));
  return { title, checks, ...(readiness === undefined ? {} : { readiness }), sentence: sentenceAt(state, nowMs), doneAtMs, reminders };
}
