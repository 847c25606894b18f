import { describe, expect, test } from 'vitest';
import { faultList, parseFault } from '../../../daemon/rehearse/faultWish.ts';

// Protects: a person names a fault and a moment in words, gets that one, and is told when there is none such.

describe('a fault for a rehearsal', () => {
  test('every fault of the simulators is listed with a sentence', () => {
    const list = faultList();
    expect(list.map(({ name }) => name)).toEqual(expect.arrayContaining(['loseLamp', 'fadeLamp', 'unplug:DEVICE', 'hang:DEVICE']));
    for (const { sentence } of list) expect(sentence.length).toBeGreaterThan(10);
  });

  test.each([
    ['loseLamp', 30],
    ['loseLamp@12', 12],
    ['loseLamp@75%', 45],
    ['loseLamp@0.25', 15],
    ['unplug:stage@0', 0],
    ['loseLamp@900', 60],
  ])('%s of 60 tiles strikes after %i', (text, after) => {
    expect(parseFault(text).atTile(60)).toBe(after);
  });

  test.each(['noSuchThing', 'unplug', 'unplug:kettle', 'loseLamp:stage', 'loseLamp@soon', 'loseLamp@180%'])('%s is refused', (text) => {
    expect(() => parseFault(text)).toThrow(expect.objectContaining({ code: 'badUsage' }));
  });
});
