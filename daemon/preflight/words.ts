import type { Finding, Verdict } from '../doctor/finding.ts';
import type { Readiness } from './preflight.ts';

const verdictWords: Readonly<Record<Verdict, string>> = { ok: 'ready', toMend: 'NOT READY', advice: 'look', cannotBeTold: 'look' };
const verdictWidth = Math.max(...Object.values(verdictWords).map(({ length }) => length));
const checkWidth = 22;

/** One finding as the terminal shows it: what was seen, and what to do on a line below. */
export function findingLines({ check, verdict, seen, mend }: Finding): string {
  const head = `${verdictWords[verdict].padEnd(verdictWidth)}  ${check.padEnd(checkWidth)}  `;
  return [`${head}${seen}`, ...(mend === undefined ? [] : [`${' '.repeat(head.length)}-> ${mend}`])].join('\n');
}

function names(findings: readonly Finding[]): string {
  return findings.map(({ check }) => check).join(', ');
}

/** The sum of it, in one sentence. */
export function readinessSentence(readiness: Readiness, findings: readonly Finding[]): string {
  if (readiness === 'ready') return 'Ready for the night.';
  if (readiness === 'notReady') return `Not ready: ${names(findings.filter(({ verdict }) => verdict === 'toMend'))}.`;
  return `Ready but for what you must look at yourself: ${names(findings.filter(({ verdict }) => verdict !== 'ok'))}.`;
}

/** The one thing to do next. */
export function nextAction(readiness: Readiness, findings: readonly Finding[]): string {
  const first = findings.find(({ verdict }) => verdict === 'toMend') ?? findings.find(({ verdict }) => verdict !== 'ok');
  if (readiness === 'ready' || !first) return 'Next: begin the night with `nightjar scan` or `nightjar serve`.';
  const what = first.mend ?? `look at ${first.check}`;
  return readiness === 'notReady' ? `Next: ${first.check}: ${what}.` : `Next: ${first.check}: ${what}. Then begin the night.`;
}
