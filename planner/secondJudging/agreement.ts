import { middleOf } from '../knownFlake/robust.ts';

/** Two layer numbers that one person gave to one terrace, the second without knowing of the first. */
export interface JudgedTwice {
  readonly first: number;
  readonly second: number;
  /** From the first to the second, ms. */
  readonly apartMs: number;
}

/** How well a person agrees with himself or herself. */
export interface Agreement {
  readonly pairs: number;
  readonly alike: number;
  /** Share of equal numbers, with its 95 % interval. */
  readonly share: number;
  readonly low: number;
  readonly high: number;
  /** Left out where there are too few pairs, or only one number was ever given. */
  readonly kappa?: number;
  /** Median. */
  readonly apartMs: number;
}

/** Of the standard normal distribution, for 95 %. */
const z95 = 1.959964;
/** With fewer pairs kappa says next to nothing (our own choice, no source). */
const leastForKappa = 10;

/** Undefined where nothing was judged twice. */
export function agreementOf(pairs: readonly JudgedTwice[]): Agreement | undefined {
  const { length } = pairs;
  if (length === 0) return undefined;
  const alike = pairs.filter(({ first, second }) => first === second).length;
  const kappa = length < leastForKappa ? undefined : cohenKappa(pairs);
  return { pairs: length, alike, share: alike / length, ...wilsonInterval(alike, length), ...(kappa === undefined ? {} : { kappa }), apartMs: middleOf(pairs.map(({ apartMs }) => apartMs)) };
}

/**
 * 95 % interval of a share, by the score of the normal distribution: Wilson 1927, Probable inference, the law of succession, and statistical
 * inference, J. Am. Stat. Assoc. 22, 209 (formula from memory; held against SciPy and published figures in the tests). Holds for few and for all alike.
 * @param of one at least
 */
export function wilsonInterval(count: number, of: number, z = z95): { readonly low: number; readonly high: number } {
  const share = count / of;
  const middle = share + (z * z) / (2 * of);
  const half = z * Math.sqrt((share * (1 - share)) / of + (z * z) / (4 * of * of));
  const whole = 1 + (z * z) / of;
  return { low: Math.max(0, (middle - half) / whole), high: Math.min(1, (middle + half) / whole) };
}

/**
 * Agreement beyond what the same frequencies would give by chance: (po - pe) / (1 - pe). Cohen 1960, A coefficient of agreement for nominal
 * scales, Educ. Psychol. Meas. 20, 37 (formula from memory). Undefined where chance alone gives full agreement.
 */
export function cohenKappa(pairs: readonly Pick<JudgedTwice, 'first' | 'second'>[]): number | undefined {
  const of = pairs.length;
  const numbers = new Set(pairs.flatMap(({ first, second }) => [first, second]));
  const share = (isIt: (pair: Pick<JudgedTwice, 'first' | 'second'>) => boolean): number => pairs.filter(isIt).length / of;
  const observed = share(({ first, second }) => first === second);
  const byChance = [...numbers].reduce((sum, n) => sum + share(({ first }) => first === n) * share(({ second }) => second === n), 0);
  return byChance < 1 ? (observed - byChance) / (1 - byChance) : undefined;
}
