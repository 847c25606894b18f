import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { keepDetection, keepFlake, wholeDetection, wholeFlake } from '../../../planner/flakes/kept.ts';
import { pack, unpack } from '../../../planner/flakes/packing.ts';
import { addTile, emptyBook, flakesOf } from '../../../planner/flakes/book.ts';
import { box, context, detection, pose } from './drawn.ts';

/** Protects: what a book packs away comes back to the last bit, so that a night does not depend on when something was packed. */

const plain = fc.letrec((tie) => ({
  value: fc.oneof({ maxDepth: 4 }, fc.double(), fc.integer(), fc.string(), fc.boolean(), fc.constantFrom(null, undefined), tie('list'), tie('outline'), tie('object')),
  list: fc.array(tie('value'), { maxLength: 5 }),
  outline: fc.array(fc.record({ xUm: fc.double(), yUm: fc.double() }, { noNullPrototype: true }), { maxLength: 9 }),
  object: fc.dictionary(fc.string({ minLength: 1, maxLength: 4 }).filter((key) => key !== '__proto__'), tie('value'), { maxKeys: 4, noNullPrototype: true }),
})).value;

describe('packing', () => {
  it('gives back any plain value as it was, its keys in their order', () => {
    fc.assert(
      fc.property(plain, (value) => {
        const again = unpack(pack(value));
        // toStrictEqual tells -0 from 0 and a missing key from an undefined one.
        expect(again).toStrictEqual(value);
        expect(JSON.stringify(again)).toBe(JSON.stringify(value));
      }),
    );
  });

  it('takes lists whose items are nearly alike for what they are', () => {
    const tricky = [[{ xUm: 1, yUm: 2 }, { yUm: 2, xUm: 1 }], [{ xUm: 1, yUm: 2, zUm: 3 }], [{ xUm: 1, yUm: null }], [{ xUm: 1, yUm: 2 }, 7], [[], [[]]], [[1], ['1']]];
    expect(JSON.stringify(unpack(pack(tricky)))).toBe(JSON.stringify(tricky));
  });

  it('keeps detections and flakes of a chip as they were', () => {
    const drawn = [detection(box(60, 0, 20, 12), 0.09), { ...detection(box(10, 0, 10, 12), 0.5), reject: 'softEdge' as const }];
    for (const each of drawn) expect(wholeDetection(keepDetection(each))).toStrictEqual(each);
    const { book, changed } = addTile(emptyBook(context), 0, pose(0), drawn);
    expect(flakesOf(book)).toHaveLength(2);
    for (const flake of changed) {
      const group = book.groups.find(({ id }) => id === flake.id);
      expect(group && wholeFlake(keepFlake(flake), group.merged)).toStrictEqual(flake);
    }
  });
});
