/** Places remembered at most; then counting begins again. */
const MOST_PLACES = 100_000;

/** Counts how often each place has been come to, so that chance can be keyed by place and visit: a night that is resumed meets it again. */
export class Visits {
  readonly #counts = new Map<string, number>();

  /** The place's key with the number of this visit. */
  next(place: string): string {
    const count = this.#counts.get(place) ?? 0;
    if (this.#counts.size >= MOST_PLACES) this.#counts.clear();
    this.#counts.set(place, count + 1);
    return `${place}#${count}`;
  }
}
