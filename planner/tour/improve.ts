import type { CostOf } from './neighbours.ts';
import type { Ring } from './ring.ts';

/** Longest stretch that is moved elsewhere as a whole. */
const LONGEST_MOVED = 3;
/** Gains smaller than this are rounding. */
const LEAST_GAIN = 1e-9;

/**
 * Shortens a ring until no change helps that a place's neighbours suggest: two legs exchanged (2-opt; Croes, Operations Research 6 (1958)
 * 791; from memory), or up to three places moved elsewhere (Or-opt; Or, thesis, Northwestern University, 1976; from memory). Only places
 * whose legs have changed are looked at again.
 */
export class Improver {
  private readonly ring: Ring;
  private readonly costOf: CostOf;
  private readonly lists: Int32Array;
  private readonly most: number;
  private readonly waiting: number[] = [];
  private readonly isWaiting: Uint8Array;

  constructor(ring: Ring, costOf: CostOf, lists: Int32Array, most: number) {
    this.ring = ring;
    this.costOf = costOf;
    this.lists = lists;
    this.most = most;
    this.isWaiting = new Uint8Array(ring.order.length);
  }

  /** This place is to be looked at. */
  look(place: number): void {
    if (this.isWaiting[place]) return;
    this.isWaiting[place] = 1;
    this.waiting.push(place);
  }

  /** Improves until nothing is left to look at. Returns what was gained. */
  run(): number {
    let gained = 0;
    for (let place = this.waiting.pop(); place !== undefined; place = this.waiting.pop()) {
      this.isWaiting[place] = 0;
      for (let gain = this.improveAt(place); gain > 0; gain = this.improveAt(place)) gained += gain;
    }
    return gained;
  }

  private improveAt(place: number): number {
    return this.exchange(place, true) || this.exchange(place, false) || this.moveStretch(place);
  }

  /** 2-opt: the leg from a place to the next (or before it) is given up for one to a neighbour. */
  private exchange(a: number, forwards: boolean): number {
    const { ring, costOf, lists, most } = this;
    const b = forwards ? ring.next(a) : ring.before(a);
    const legCost = costOf(a, b);
    for (let k = a * most; k < (a + 1) * most; k += 1) {
      const c = lists[k] as number;
      if (c < 0) break;
      const newCost = costOf(a, c);
      if (newCost >= legCost) break;
      const d = forwards ? ring.next(c) : ring.before(c);
      if (c === b || d === a) continue;
      const gain = legCost + costOf(c, d) - newCost - costOf(b, d);
      if (gain <= LEAST_GAIN) continue;
      if (forwards) ring.turn(b, c);
      else ring.turn(c, b);
      for (const end of [a, b, c, d]) this.look(end);
      return gain;
    }
    return 0;
  }

  /** Or-opt: a stretch that begins or ends here is taken out and put beside a neighbour of this place. */
  private moveStretch(a: number): number {
    for (const forwards of [true, false]) {
      let far = a;
      for (let length = 1; length <= LONGEST_MOVED; length += 1) {
        if (length > 1) far = forwards ? this.ring.next(far) : this.ring.before(far);
        const gain = this.moveTo(a, far, forwards, length);
        if (gain > 0) return gain;
      }
    }
    return 0;
  }

  /** The stretch from `a` (its near end) to `far` is put between a neighbour of `a` and a place beside that. */
  private moveTo(a: number, far: number, forwards: boolean, length: number): number {
    const { ring, costOf, lists, most } = this;
    const outerA = forwards ? ring.before(a) : ring.next(a);
    const outerFar = forwards ? ring.next(far) : ring.before(far);
    if (outerA === outerFar || outerA === far) return 0;
    const freed = costOf(outerA, a) + costOf(far, outerFar) - costOf(outerA, outerFar);
    for (let k = a * most; k < (a + 1) * most; k += 1) {
      const c = lists[k] as number;
      if (c < 0) break;
      const newCost = costOf(c, a);
      if (newCost >= freed) break;
      if (this.isWithin(c, a, forwards, length)) continue;
      for (const d of [ring.next(c), ring.before(c)]) {
        if (this.isWithin(d, a, forwards, length)) continue;
        const gain = freed + costOf(c, d) - newCost - costOf(far, d);
        if (gain <= LEAST_GAIN) continue;
        this.carryOut(a, far, outerA, outerFar, c, d);
        for (const end of [a, far, outerA, outerFar, c, d]) this.look(end);
        return gain;
      }
    }
    return 0;
  }

  private isWithin(place: number, a: number, forwards: boolean, length: number): boolean {
    const count = this.ring.order.length;
    const way = forwards ? this.ring.positionOf(place) - this.ring.positionOf(a) : this.ring.positionOf(a) - this.ring.positionOf(place);
    return (way + count) % count < length;
  }

  /**
   * Moves a stretch by turning: seen so that the ring runs from its outer neighbour through the stretch to the leg (x, y) where it goes,
   * stretch and what lies between are turned together and then each by itself.
   */
  private carryOut(a: number, far: number, outerA: number, outerFar: number, c: number, d: number): void {
    const { ring } = this;
    // The end of the leg that is reached first on the way from the stretch, its far side or its near side.
    const runsToC = (from: number, outer: number): boolean => (ring.next(from) === outer ? ring.next(c) === d : ring.before(c) === d);
    const nearLeg = runsToC(far, outerFar) ? c : d;
    const farLeg = nearLeg === c ? d : c;
    // outerA [a..far] [outerFar..nearLeg] farLeg  ->  outerA [nearLeg..outerFar] [far..a] farLeg
    ring.turnBetween(a, nearLeg, outerA);
    // -> outerA [outerFar..nearLeg] [far..a] farLeg
    ring.turnBetween(nearLeg, outerFar, outerA);
    // `a` must come to lie beside c: as it is when farLeg is c, else the stretch is turned as well.
    if (farLeg !== c) ring.turnBetween(far, a, nearLeg);
  }
}
