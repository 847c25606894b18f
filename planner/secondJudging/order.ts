/** This share of what a person judges comes up once more. */
export const secondShare = 0.05;
/** So many other flakes at least are judged in between: nobody remembers beyond them. */
export const leastBetween = 10;
/** And up to this many more, drawn, so that nobody can count on it. */
const mostMoreBetween = 20;

/** A judgement in the order in which a person gave them. */
export interface Judgement {
  /** Names what was judged, for good. */
  readonly key: string;
  /** It was the second one of its flake. */
  readonly isSecond: boolean;
  /** What was judged may be put before the person again: it is still there, and is what the page would offer. */
  readonly mayComeAgain: boolean;
}

/** Two numbers from 0 to 1 (exclusive) for a key: always the same for the same key, and for others not to be told. */
export type Draw = (key: string) => readonly [number, number];

/** The judgement that is to be repeated next, or the best that is not judged yet. */
export type Next = { readonly again: string } | { readonly unjudged: string };

/**
 * What a person is shown next: a hidden share of the judged flakes once more, each after at least {@link leastBetween} others, and else the best
 * unjudged one. At the end those come that are drawn and have waited long enough. Undefined when nothing is left. Pure.
 * @param judged all that this person has judged tonight, in order
 * @param unjudged best first
 * @param passed keys of judgements that were put before the person again and left unjudged: not offered any more
 */
export function nextToJudge(judged: readonly Judgement[], unjudged: readonly string[], draw: Draw, passed: ReadonlySet<string> = new Set()): Next | undefined {
  const seconds = new Set(judged.flatMap(({ key, isSecond }) => (isSecond ? [key] : [])));
  const drawn = judged.flatMap(({ key, isSecond, mayComeAgain }, at) => {
    if (isSecond || !mayComeAgain || seconds.has(key) || passed.has(key)) return [];
    const [share, more] = draw(key);
    const between = judged.length - 1 - at;
    return share < secondShare && between >= leastBetween ? [{ key, isDue: between >= leastBetween + Math.floor(more * (mostMoreBetween + 1)) }] : [];
  });
  const due = drawn.find(({ isDue }) => isDue);
  if (due) return { again: due.key };
  const [best] = unjudged;
  if (best !== undefined) return { unjudged: best };
  return drawn[0] && { again: drawn[0].key };
}
