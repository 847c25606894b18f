/**
 * A closed tour as an array of places and the position of each in it. The only change is turning a stretch round, and the last ones can be
 * taken back: each is its own opposite.
 */
export class Ring {
  readonly order: Int32Array;
  private readonly at: Int32Array;
  /** First and last position of each turn since the last `keep`, one after the other. */
  private readonly turns: number[] = [];

  constructor(order: Int32Array) {
    this.order = order;
    this.at = new Int32Array(order.length);
    order.forEach((place, i) => (this.at[place] = i));
  }

  next(place: number): number {
    const i = (this.at[place] as number) + 1;
    return this.order[i === this.order.length ? 0 : i] as number;
  }

  before(place: number): number {
    const i = this.at[place] as number;
    return this.order[i === 0 ? this.order.length - 1 : i - 1] as number;
  }

  placeAt(position: number): number {
    return this.order[position % this.order.length] as number;
  }

  positionOf(place: number): number {
    return this.at[place] as number;
  }

  /** Turns the stretch from one place on to another round; or, which comes to the same ring, the rest of it, where that is shorter. */
  turn(from: number, to: number): void {
    const count = this.order.length;
    const [i, j] = [this.at[from] as number, this.at[to] as number];
    const inside = ((j - i + count) % count) + 1;
    if (2 * inside <= count) this.swapAll(i, j, inside);
    else this.swapAll((j + 1) % count, (i - 1 + count) % count, count - inside);
  }

  /** The stretch between two places that are its ends, whichever of them comes first, when `outer` is the neighbour outside of `end`. */
  turnBetween(end: number, other: number, outer: number): void {
    if (this.before(end) === outer) this.turn(end, other);
    else this.turn(other, end);
  }

  /** Forgets how to take back what was done so far. */
  keep(): void {
    this.turns.length = 0;
  }

  takeBack(): void {
    while (this.turns.length > 0) {
      const j = this.turns.pop() ?? 0;
      const i = this.turns.pop() ?? 0;
      const count = this.order.length;
      this.swap(i, j, ((j - i + count) % count) + 1);
    }
  }

  private swapAll(i: number, j: number, length: number): void {
    if (length < 2) return;
    this.turns.push(i, j);
    this.swap(i, j, length);
  }

  private swap(first: number, last: number, length: number): void {
    const { order, at } = this;
    const count = order.length;
    let [i, j] = [first, last];
    for (let left = length >> 1; left > 0; left -= 1) {
      const a = order[i] as number;
      const b = order[j] as number;
      order[i] = b;
      at[b] = i;
      order[j] = a;
      at[a] = j;
      i = i + 1 === count ? 0 : i + 1;
      j = j === 0 ? count - 1 : j - 1;
    }
  }
}
