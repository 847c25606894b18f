/**
 * A stream of chance: the same key gives the same numbers on every machine. Streams with different keys are independent, so that one
 * more number drawn in one place changes nothing anywhere else.
 */
export interface Random {
  /** Evenly spread from 0 up to, but not including, 1. */
  next(): number;
  /** Evenly spread between the two. */
  between(low: number, high: number): number;
  /** A whole number from 0 to count - 1. */
  below(count: number): number;
  /** Normally distributed with mean 0 and standard deviation 1. */
  normal(): number;
  /** One of the choices. */
  pick<T>(choices: readonly [T, ...T[]]): T;
}

/** 32-bit hash of a text: FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; constants from IETF draft-eastlake-fnv), finished by Murmur3's mixer (A. Appleby). */
export function hashText(text: string): number {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  return mix(hash);
}

function mix(value: number): number {
  let h = value ^ (value >>> 16);
  h = Math.imul(h, 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
  return (h ^ (h >>> 16)) >>> 0;
}

/** Next state of a 32-bit xorshift generator with the shifts 13, 17, 5 (G. Marsaglia, J. Stat. Software 8, 14 (2003)). Never 0. */
export function xorshift(state: number): number {
  let x = state;
  x ^= x << 13;
  x ^= x >>> 17;
  x ^= x << 5;
  return x;
}

/** The stream of a seed, a key (a tile, a chip, a move) and a purpose. */
export function randomStream(seed: number, key: string, purpose: string): Random {
  // Two generators with different keys are added up: one alone would let like keys begin alike.
  let a = hashText(`${seed}/${key}/${purpose}`) || 1;
  let b = hashText(`${purpose}/${seed}/${key}`) || 1;
  const next = () => {
    a = xorshift(a);
    b = (Math.imul(b, 1664525) + 1013904223) | 0;
    return mix((a + b) | 0) / 4294967296;
  };
  return {
    next,
    between: (low, high) => low + (high - low) * next(),
    below: (count) => Math.floor(next() * count),
    // Box and Muller's transform; 1 - next() is never 0.
    normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
    pick: <T>(choices: readonly [T, ...T[]]) => choices[Math.floor(next() * choices.length)] ?? choices[0],
  };
}
