import { hashText } from '../random.ts';

/** Places remembered at most; then counting begins again. */
const MOST_PLACES = 100_000;

/** Counts how often each place has been come to, so that chance can be keyed by place and visit: a night that is resumed meets it again. */
export class Visits {
  /** By a number that stands for the place: the texts of a long night's places would take tens of megabytes. */
  readonly #counts = new Map<number, number>();

  /** The place's key with the number of this visit. */
  next(place: string): string {
    const key = keyOf(place);
    const count = this.#counts.get(key) ?? 0;
    if (this.#counts.size >= MOST_PLACES) this.#counts.clear();
    this.#counts.set(key, count + 1);
    return `${place}#${count}`;
  }
}

/** 53 bits of hash: of so many places no two are likely to share one. */
function keyOf(place: string): number {
  return hashText(place) * 2 ** 21 + (hashText(`place ${place}`) >>> 11);
}
