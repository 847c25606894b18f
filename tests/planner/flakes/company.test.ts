import { describe, expect, it } from 'vitest';
import { addTile, emptyBook, flakesOf, rereadBook } from '../../../planner/flakes/book.ts';
import { isOffCurve } from '../../../planner/flakes/company.ts';
import type { Detection, Flake, MeasuredTerrace } from '../../../planner/flakes/types.ts';
import { box, context, detection, MEASURED, pose, terrace } from './drawn.ts';

/** Protects: a good flake that residue has run up to is one, flat places inside of residue are none. Truth is what was drawn. */

/** Residue: as grey as no film on this oxide is in all three colours. */
function residue(xUm: number, yUm: number, wideUm: number, highUm: number): MeasuredTerrace {
  return { ...terrace(box(xUm, yUm, wideUm, highUm), 0.3), contrast: [0.1, 0.3, 0.55] };
}

function group(terraces: readonly MeasuredTerrace[]): Detection {
  return { terraces, outlineUm: box(-60, -40, 120, 80), areaUm2: terraces.reduce((sum, t) => sum + t.areaUm2, 0), touchesFrameEdge: false };
}

/** Flakes elsewhere on the chip give the ladder its rungs. */
const ladderTiles = MEASURED.flatMap((c, i) => [detection(box(-80 + 20 * i, 60, 12, 10), c), detection(box(-80 + 20 * i, -70, 12, 10), c)]);

function read(terraces: readonly MeasuredTerrace[]): Flake | undefined {
  const { book } = addTile(emptyBook(context), 0, pose(0), [...ladderTiles, group(terraces)]);
  return flakesOf(rereadBook(book).book).find((f) => f.terraces.length === terraces.length);
}

describe('a terrace in bad company', () => {
  it('that is only touched counts, with its own place and area', () => {
    const flake = read([residue(-60, -40, 80, 80), terrace(box(20, -15, 40, 30), MEASURED[0])]);
    expect(flake?.terraces[0] && isOffCurve(flake.terraces[0])).toBe(true);
    expect(flake).toMatchObject({ verdict: 'flagged', layers: 1, areaUm2: 1200, centreUm: { xUm: 40, yUm: 0 } });
    // The bar lies on the flake and not in the residue.
    expect(flake?.bar?.centreUm.xUm).toBeGreaterThan(20);
  });

  it('that is enclosed does not', () => {
    const walls = [residue(-60, -40, 120, 30), residue(-60, 10, 120, 30), residue(-60, -10, 50, 20), residue(10, -10, 50, 20)];
    expect(read([...walls, terrace(box(-10, -10, 20, 20), MEASURED[0])])).toMatchObject({ verdict: 'rejected', reject: 'offLayerCurve' });
  });
});
