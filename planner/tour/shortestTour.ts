import { Improver } from './improve.ts';
import { nearestFirst, nearestNeighbours } from './neighbours.ts';
import type { CostOf } from './neighbours.ts';
import { Ring } from './ring.ts';

/** Neighbours of a place that a change may lead to. */
const NEIGHBOURS = 10;
/** Rounds of shaking and improving for each place, and most of all: 2,000 places stay well under 2 s. */
const SHAKES_PER_PLACE = 20;
const MOST_SHAKES = 16_000;
/** Longest stretch that a shake exchanges. */
const LONGEST_SHAKEN = 50;

export interface TourOptions {
  /** Back to the beginning at the end; open when left out. */
  readonly closed?: boolean;
  /** Where an open tour begins; anywhere when left out. */
  readonly start?: number;
}

/**
 * A short tour through all places: nearest first, improved leg by leg, then shaken at one place after another and improved there again,
 * each shake kept when the tour got no longer (iterated local search; Johnson and McGeoch, The traveling salesman problem, a case study in
 * local optimization, 1997; from memory). Within 5 % of the known optimum on every TSPLIB instance tried, see tests/acceptance/tours.mjs.
 * The same places give the same tour: nothing is left to chance.
 * @param costOf cost of a leg, the same both ways, at least 0
 * @returns the places in order
 */
export function shortestTour(count: number, costOf: CostOf, { closed = false, start }: TourOptions = {}): readonly number[] {
  if (count < 3) return orderOfFew(count, start);
  if (closed) return [...ringThrough(count, costOf)];
  // An open tour is a closed one through a place more that is at no distance from any; from the start nothing else is worth leaving.
  const outside = count;
  const farthest = start === undefined ? 0 : mostCost(count, costOf) * count + 1;
  const bridged: CostOf = (a, b) => {
    if (a !== outside && b !== outside) return costOf(a, b);
    const inside = a === outside ? b : a;
    return start === undefined || inside === start ? 0 : farthest;
  };
  // With a given start only its own bridge is free, and of the other bridge one must be taken, at the same price for all.
  const ring = [...ringThrough(count + 1, bridged)];
  const cut = ring.indexOf(outside);
  const open = [...ring.slice(cut + 1), ...ring.slice(0, cut)];
  return start !== undefined && open[0] !== start ? open.reverse() : open;
}

function orderOfFew(count: number, start: number | undefined): readonly number[] {
  const all = Array.from({ length: count }, (_, i) => i);
  return start === 1 ? all.reverse() : all;
}

function mostCost(count: number, costOf: CostOf): number {
  let most = 0;
  for (let i = 1; i < count; i += 1) most = Math.max(most, costOf(0, i));
  return 2 * most;
}

function ringThrough(count: number, costOf: CostOf): Int32Array {
  const ring = new Ring(nearestFirst(count, costOf));
  const improver = new Improver(ring, costOf, nearestNeighbours(count, costOf, NEIGHBOURS), NEIGHBOURS);
  for (let place = count - 1; place >= 0; place -= 1) improver.look(place);
  improver.run();
  if (count >= 8) shakeAll(ring, improver, costOf);
  return ring.order;
}

function shakeAll(ring: Ring, improver: Improver, costOf: CostOf): void {
  const count = ring.order.length;
  let state = 0x2545f491;
  const below = (bound: number): number => {
    // xorshift32 (Marsaglia, Journal of Statistical Software 8 (2003) 14; from memory), always from the same seed.
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % bound;
  };
  for (let left = Math.min(MOST_SHAKES, SHAKES_PER_PLACE * count); left > 0; left -= 1) {
    ring.keep();
    const lost = shake(ring, improver, costOf, below);
    if (improver.run() < lost - 1e-9) ring.takeBack();
  }
}

/** Exchanges two neighbouring stretches (the double bridge, kept short). Returns by how much longer the tour is. */
function shake(ring: Ring, improver: Improver, costOf: CostOf, below: (bound: number) => number): number {
  const count = ring.order.length;
  const longest = Math.max(1, Math.min(LONGEST_SHAKEN, Math.floor((count - 2) / 2)));
  const first = below(count);
  const [one, two] = [1 + below(longest), 1 + below(longest)];
  const before = ring.placeAt(first);
  const [a, b] = [ring.placeAt(first + 1), ring.placeAt(first + one)];
  const [c, d] = [ring.placeAt(first + one + 1), ring.placeAt(first + one + two)];
  const after = ring.placeAt(first + one + two + 1);
  const lost = costOf(before, c) + costOf(d, a) + costOf(b, after) - costOf(before, a) - costOf(b, c) - costOf(d, after);
  // before [a..b] [c..d] after  ->  before [d..c] [b..a] after  ->  before [c..d] [a..b] after
  ring.turn(a, d);
  ring.turnBetween(d, c, before);
  ring.turnBetween(b, a, d);
  for (const end of [before, a, b, c, d, after]) improver.look(end);
  return lost;
}
