import { counted } from '../errors/index.ts';
import { isFit } from './examine.ts';
import type { Finding, Verdict } from './finding.ts';

const verdictWords: Readonly<Record<Verdict, string>> = { ok: 'ok', toMend: 'TO MEND', advice: 'advice', cannotBeTold: 'cannot be told' };
const verdictWidth = Math.max(...Object.values(verdictWords).map(({ length }) => length));

function findingText({ check, verdict, seen, mend }: Finding, checkWidth: number): string {
  const head = `${verdictWords[verdict].padEnd(verdictWidth)}  ${check.padEnd(checkWidth)}  `;
  return [`${head}${seen}`, ...(mend === undefined ? [] : [`${' '.repeat(head.length)}-> ${mend}`])].join('\n');
}

function summary(findings: readonly Finding[]): string {
  const count = (wanted: Verdict): number => findings.filter(({ verdict }) => verdict === wanted).length;
  const head = isFit(findings) ? 'Nothing must be mended' : `${counted(count('toMend'), 'thing')} to mend`;
  return `${head}; ${counted(count('advice'), 'piece')} of advice, ${count('cannotBeTold')} that cannot be told.`;
}

/** For people: each finding on one line, how to mend it on the next, and the sum of it. */
export function reportText(findings: readonly Finding[], hasInstrument: boolean): string {
  const width = Math.max(...findings.map(({ check }) => check.length));
  const without = hasInstrument ? [] : ['Without an instrument file, its ports and its camera were not looked at: nightjar doctor INSTRUMENT.yaml'];
  return [...findings.map((finding) => findingText(finding, width)), '', ...without, summary(findings)].join('\n');
}

/** For scripts. */
export function reportJson(findings: readonly Finding[]): string {
  return JSON.stringify({ fit: isFit(findings), findings }, null, 2);
}
