import { agreementOf } from '../../planner/secondJudging/agreement.ts';
import type { SecondVerdict } from '../records/types.ts';

const minuteMs = 60_000;

/** "m.o. judged 9 flakes twice: 8 alike (89 %, 57 to 98 %), usually 25 min apart." One sentence for each person, in order of the alphabet. */
export function agreementSentences(seconds: readonly SecondVerdict[]): readonly string[] {
  const inForce = seconds.filter(({ withdrawnAtMs }) => withdrawnAtMs === undefined);
  return [...new Set(inForce.map(({ initials }) => initials))].sort().flatMap((initials) => {
    const pairs = inForce.filter((second) => second.initials === initials).map(({ first, layers, atMs }) => ({ first: first.layers, second: layers, apartMs: atMs - first.atMs }));
    const agreement = agreementOf(pairs);
    if (!agreement) return [];
    const { alike, share, low, high, kappa, apartMs } = agreement;
    const flakes = `${agreement.pairs} ${agreement.pairs === 1 ? 'flake' : 'flakes'}`;
    const beyondChance = kappa === undefined ? '' : `, kappa ${kappa.toFixed(2)}`;
    return [`${initials} judged ${flakes} twice: ${alike} alike (${percent(share)} %, ${percent(low)} to ${percent(high)} %${beyondChance}), usually ${apartWords(apartMs)} apart.`];
  });
}

function apartWords(apartMs: number): string {
  if (apartMs < 90 * minuteMs) return `${Math.max(1, Math.round(apartMs / minuteMs))} min`;
  return `${Math.round(apartMs / (60 * minuteMs))} h`;
}

function percent(share: number): string {
  return (100 * share).toFixed(0);
}
