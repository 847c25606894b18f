// Intervals for rates and counts.

/** 95 % of a standard normal distribution lie within this. */
const Z = 1.959964;

/** 95 % interval of a share (E. B. Wilson, J. Am. Stat. Assoc. 22, 209 (1927), from memory); the whole range for none. */
export function wilson(right, wanted) {
  if (wanted === 0) return [0, 1];
  const p = right / wanted;
  const z2 = (Z * Z) / wanted;
  const middle = (p + z2 / 2) / (1 + z2);
  const half = (Z * Math.sqrt((p * (1 - p)) / wanted + z2 / (4 * wanted))) / (1 + z2);
  return [Math.max(0, middle - half), Math.min(1, middle + half)];
}

/** Chance of at most `count` events where `mean` are expected: Poisson. */
function atMost(count, mean) {
  let term = Math.exp(-mean);
  let sum = term;
  for (let k = 1; k <= count; k++) {
    term *= mean / k;
    sum += term;
  }
  return sum;
}

/** One-sided 95 % upper bound of the expected number, `count` having been seen: 3.0 for none. */
export function poissonUpper(count) {
  let [low, high] = [count, count + 10 + 5 * Math.sqrt(count)];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (atMost(count, middle) > 0.05) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

export const percent = (share, digits = 1) => `${(100 * share).toFixed(digits)} %`;

/** "96.4 % (27/28; 82.3 to 99.4 %)", or a dash for none. */
export function rateText({ right, wanted }) {
  if (wanted === 0) return '-';
  const [low, high] = wilson(right, wanted);
  return `${percent(right / wanted)} (${right}/${wanted}; ${(100 * low).toFixed(1)} to ${percent(high)})`;
}
