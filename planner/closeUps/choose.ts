import { shortestTour } from '../tour/shortestTour.ts';
import type { StagePoint } from '../units/index.ts';
import type { CloseUpCandidate } from './types.ts';

/** A place of the tour: where the stage stands at first, or a candidate's. */
export interface TourPlace {
  readonly atUm: StagePoint;
  /** The chip it lies on; none for where the stage stands at first. */
  readonly chip?: string;
}

export interface CloseUpBudget {
  readonly candidates: readonly CloseUpCandidate[];
  /** Where the stage stands before. */
  readonly fromUm: StagePoint;
  /** Time there is, in s: for the ways and for all that is done at each flake. */
  readonly budgetS: number;
  /** Time spent at each flake, in s; see `secondsPerCloseUp`. */
  readonly atPlaceS: number;
  /** Time from one place to the next, in s. */
  readonly travelS: (from: TourPlace, to: TourPlace) => number;
}

export interface ChosenCloseUps {
  /** In the order in which they are gone to. */
  readonly tour: readonly CloseUpCandidate[];
  readonly seconds: number;
}

/**
 * Which flakes to look at again within a time, and in which order: the best first, each put into the tour where it costs least, the tour
 * made shorter whenever one finds no room; at last none is left out whose place in the tour a worse one has that costs as much. Never
 * over the budget; the same candidates give the same tour.
 */
export function closeUpsInBudget(budget: CloseUpBudget): ChosenCloseUps {
  const ranked = budget.candidates.filter(({ value }) => value > 0).sort((a, b) => b.value - a.value || (a.id < b.id ? -1 : 1));
  const choice = new Choice(budget);
  choice.takeAll(ranked);
  // Every exchange and everything taken in makes the tour worth more, so this ends.
  while (choice.exchangeOne(ranked)) {
    while (choice.exchangeOne(ranked)) continue;
    choice.takeAll(ranked);
  }
  return { tour: choice.tour, seconds: choice.seconds };
}

class Choice {
  tour: readonly CloseUpCandidate[] = [];
  seconds = 0;
  private isShort = true;
  private readonly budget: CloseUpBudget;

  constructor(budget: CloseUpBudget) {
    this.budget = budget;
  }

  /** Takes in whatever finds room, the best first. */
  takeAll(ranked: readonly CloseUpCandidate[]): void {
    const chosen = new Set(this.tour);
    for (const candidate of ranked) {
      // Where not even the time at the place is left, no way to it is short enough.
      if (this.seconds + this.budget.atPlaceS > this.budget.budgetS && this.isShort) return;
      if (!chosen.has(candidate) && (this.insert(candidate) || (this.shorten() && this.insert(candidate)))) chosen.add(candidate);
    }
  }

  /** Puts one that was left out, the best first, in the place of a worse one, the worst first, where there is room for it. */
  exchangeOne(ranked: readonly CloseUpCandidate[]): boolean {
    const chosen = new Set(this.tour);
    const worstFirst = this.tour.map((each, at) => ({ each, at })).sort((a, b) => a.each.value - b.each.value);
    for (const candidate of ranked) {
      if (candidate.value <= (worstFirst[0]?.each.value ?? Infinity)) return false;
      if (chosen.has(candidate)) continue;
      for (const { each, at } of worstFirst) {
        if (each.value >= candidate.value) break;
        if (this.seconds + this.exchangedS(at, candidate) <= this.budget.budgetS && this.accept(this.tour.with(at, candidate))) return true;
      }
    }
    return false;
  }

  /** By how much longer the tour gets with another candidate at a place of it. */
  private exchangedS(at: number, candidate: CloseUpCandidate): number {
    const { travelS } = this.budget;
    const [before, present, after] = [this.placeBefore(at), this.tour[at], this.tour[at + 1]];
    if (!present) return Infinity;
    const aheadS = after ? travelS(candidate, after) - travelS(present, after) : 0;
    return travelS(before, candidate) - travelS(before, present) + aheadS;
  }

  /** Where it costs least; false where that is over the budget. */
  private insert(candidate: CloseUpCandidate): boolean {
    const { travelS } = this.budget;
    let [bestAt, bestS] = [0, Infinity];
    for (let at = 0; at <= this.tour.length; at += 1) {
      const before = this.placeBefore(at);
      const after = this.tour[at];
      const addedS = travelS(before, candidate) + (after ? travelS(candidate, after) - travelS(before, after) : 0);
      if (addedS < bestS) [bestAt, bestS] = [at, addedS];
    }
    return this.seconds + bestS + this.budget.atPlaceS <= this.budget.budgetS && this.accept(this.tour.toSpliced(bestAt, 0, candidate));
  }

  /** Finds a shorter tour through the same places; false where there is none. */
  private shorten(): boolean {
    if (this.isShort) return false;
    const { fromUm, travelS } = this.budget;
    const places: readonly TourPlace[] = [{ atUm: fromUm }, ...this.tour];
    const legS = (a: number, b: number): number => {
      const [from, to] = [places[a], places[b]];
      // The same both ways, as the search for a tour wants it; taking up slack makes one of them longer.
      return from && to ? (travelS(from, to) + travelS(to, from)) / 2 : 0;
    };
    const order = shortestTour(places.length, legS, { start: 0 }).slice(1);
    const tour = order.flatMap((place) => this.tour[place - 1] ?? []);
    const before = this.seconds;
    const found = this.secondsOf(tour) < before && this.accept(tour);
    this.isShort = true;
    return found;
  }

  private accept(tour: readonly CloseUpCandidate[]): boolean {
    const seconds = this.secondsOf(tour);
    if (seconds > this.budget.budgetS) return false;
    this.tour = tour;
    this.seconds = seconds;
    this.isShort = tour.length < 2;
    return true;
  }

  private placeBefore(at: number): TourPlace {
    return this.tour[at - 1] ?? { atUm: this.budget.fromUm };
  }

  private secondsOf(tour: readonly CloseUpCandidate[]): number {
    const { fromUm, travelS, atPlaceS } = this.budget;
    let at: TourPlace = { atUm: fromUm };
    let seconds = 0;
    for (const next of tour) {
      seconds += travelS(at, next) + atPlaceS;
      at = next;
    }
    return seconds;
  }
}
