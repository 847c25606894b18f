/** Edits (insert, delete, replace, swap of neighbours) from one word to another: the restricted Damerau-Levenshtein distance. */
export function editDistance(a: string, b: string): number {
  let before: number[] = [];
  let above = Array.from({ length: b.length + 1 }, (_, j) => j);
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      const same = a[i - 1] === b[j - 1] ? 0 : 1;
      let best = Math.min((above[j] ?? 0) + 1, (row[j - 1] ?? 0) + 1, (above[j - 1] ?? 0) + same);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) best = Math.min(best, (before[j - 2] ?? 0) + 1);
      row.push(best);
    }
    before = above;
    above = row;
  }
  return above[b.length] ?? 0;
}

/** Compared without case; a word that is part of the other (`speed` in `maxSpeedUmPerS`) is as near as one edit. */
function distance(word: string, known: string): number {
  const [a, b] = [word.slice(0, 80).toLowerCase(), known.toLowerCase()];
  const part = a.length >= 3 && (b.includes(a) || a.includes(b));
  return part && a !== b ? Math.min(1.5, editDistance(a, b)) : editDistance(a, b);
}

/** The known word that is nearest to what was written; the first of equals; undefined when none is known. */
export function nearest(word: string, known: readonly string[]): string | undefined {
  let best: { readonly name: string; readonly edits: number } | undefined;
  for (const name of known) {
    const edits = distance(word, name);
    if (!best || edits < best.edits) best = { name, edits };
  }
  return best?.name;
}
