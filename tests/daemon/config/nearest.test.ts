import { describe, expect, it } from 'vitest';
import fc from 'fast-check';
import { editDistance, nearest } from '../../../daemon/config/nearest.ts';

/** Short words of few letters, so that coincidences are common. */
const word = fc.string({ unit: fc.constantFrom('a', 'b', 'c'), maxLength: 8 });

describe('edit distance', () => {
  // Levenshtein 1966: kitten to sitting is the usual worked example (3); a swap of neighbours counts once (Damerau 1964).
  it.each([
    ['kitten', 'sitting', 3],
    ['', 'abc', 3],
    ['overlpa', 'overlap', 1],
    ['same', 'same', 0],
  ])('%s to %s is %i', (a, b, edits) => expect(editDistance(a, b)).toBe(edits));

  it('is symmetric, zero only for the same word, and never more than the longer word', () => {
    fc.assert(
      fc.property(word, word, (a, b) => {
        const edits = editDistance(a, b);
        expect(edits).toBe(editDistance(b, a));
        expect(edits === 0).toBe(a === b);
        expect(edits).toBeLessThanOrEqual(Math.max(a.length, b.length));
        expect(edits).toBeGreaterThanOrEqual(Math.abs(a.length - b.length));
      }),
    );
  });
});

describe('the nearest known word', () => {
  it('finds a known word itself, and nothing among none', () => {
    expect(nearest('settleMs', ['settle', 'settleMs'])).toBe('settleMs');
    expect(nearest('x', [])).toBeUndefined();
  });
  it('looks past case and forgotten units', () => {
    expect(nearest('SETTLEMS', ['driver', 'settleMs'])).toBe('settleMs');
    expect(nearest('exposure', ['objective', 'exposureMs'])).toBe('exposureMs');
  });
});
