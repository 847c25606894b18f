import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { absoluteFile, cropFile, tilePictureFile } from '../../../daemon/records/index.ts';

describe('names of files', () => {
  it('are in order of tiles', () => {
    expect(tilePictureFile('n1', 12)).toBe('runs/n1/tiles/000012.webp');
    expect(cropFile('n1', 'K-07_3', 2)).toBe('runs/n1/crops/K-07_3-2.png');
    expect(() => tilePictureFile('../n1', 0)).toThrow(RangeError);
  });

  it('never collide, never leave the folder, whatever a flake is called', () => {
    const id = fc.oneof(fc.string({ unit: 'grapheme', minLength: 1, maxLength: 30 }), fc.string({ unit: fc.constantFrom('=', '2', 'f', '/', '.', '-', 'é') }));
    fc.assert(
      fc.property(id, id, (a, b) => {
        expect(cropFile('n', a, 0) === cropFile('n', b, 0)).toBe(a === b);
        expect(cropFile('n', a, 0)).toMatch(/^runs\/n\/crops\/[A-Za-z0-9_=-]*\.png$/);
      }),
    );
  });

  it.each(['', '/etc/passwd', '../x', 'runs/../../x', 'runs//x', 'runs/./x', 'runs\\..\\x', 'runs/x\0.png'])('that lead elsewhere are refused: %j', (name) => {
    expect(absoluteFile('data', name)).toBeUndefined();
  });

  it('of the records are found', () => {
    expect(absoluteFile('data', 'runs/n/tiles/000001.webp')).toBe('data/runs/n/tiles/000001.webp');
  });
});
