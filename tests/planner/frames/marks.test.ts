import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { toStage } from '../../../planner/frames/chipFrame.ts';
import type { ChipFrame, MarkPair } from '../../../planner/frames/chipFrame.ts';
import { fitChipFrame } from '../../../planner/frames/marks.ts';
import { distanceUm } from '../../../planner/units/index.ts';
import type { ChipPoint, StagePoint } from '../../../planner/units/index.ts';

/** Protects: where a chip lies is read from its marks, and marks that cannot be right are told apart. Truth: a rigid motion that is known. */

const at = (xUm: number, yUm: number): StagePoint & ChipPoint => ({ xUm, yUm });
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const anyFrame: fc.Arbitrary<ChipFrame> = fc.record({ originUm: fc.record({ xUm: number(0, 60_000), yUm: number(0, 60_000) }), angleDeg: number(-180, 180) });
/** Four marks near the corners of a chip of 8 x 6 mm, none of them where symmetry would have it. */
const onChip = [at(300, 200), at(7600, 500), at(7300, 5800), at(600, 5100)];
const laid = (frame: ChipFrame, chipUm: readonly ChipPoint[] = onChip): MarkPair[] => chipUm.map((p) => ({ chipUm: p, stageUm: toStage(frame, p) }));
const moved = (p: StagePoint, dx: number, dy: number): StagePoint => at(p.xUm + dx, p.yUm + dy);
const refusalOf = (marks: readonly MarkPair[]) => {
  const fit = fitChipFrame(marks, 50);
  return fit.ok ? undefined : fit.refusal;
};

describe('marks that agree', () => {
  it('settle the frame, two, three or four of them', () => {
    fc.assert(
      fc.property(anyFrame, fc.constantFrom(2, 3, 4), (frame, count) => {
        const fit = fitChipFrame(laid(frame).slice(0, count), 50);
        if (!fit.ok) throw new Error(fit.refusal.code);
        for (const corner of onChip) expect(distanceUm(toStage(fit.frame, corner), toStage(frame, corner))).toBeLessThan(1e-5);
        expect(Math.max(...fit.residualsUm)).toBeLessThan(1e-5);
        expect(fit.stageScale).toBeCloseTo(1, 9);
      }),
    );
  });

  it('average their errors out: four marks, each off by up to 3 um, put a flake in their midst within 3 um', () => {
    const off = fc.tuple(number(-3, 3), number(-3, 3));
    fc.assert(
      fc.property(anyFrame, fc.array(off, { minLength: 4, maxLength: 4 }), (frame, offs) => {
        const fit = fitChipFrame(laid(frame).map((mark, i) => ({ ...mark, stageUm: moved(mark.stageUm, offs[i]?.[0] ?? 0, offs[i]?.[1] ?? 0) })), 50);
        if (!fit.ok) throw new Error(fit.refusal.code);
        expect(distanceUm(toStage(fit.frame, at(3950, 2900)), toStage(frame, at(3950, 2900)))).toBeLessThan(3.1);
      }),
    );
  });

  it('tell the scale of the stage, which the frame does not follow', () => {
    const stretched = laid({ originUm: at(0, 0), angleDeg: 0 }).map((mark) => ({ ...mark, stageUm: at(mark.stageUm.xUm * 1.003, mark.stageUm.yUm * 1.003) }));
    const fit = fitChipFrame(stretched, 50);
    expect(fit.ok && fit.stageScale).toBeCloseTo(1.003, 9);
  });
});

describe('marks that cannot be right', () => {
  it('are recognised as mirrored', () => {
    fc.assert(
      fc.property(anyFrame, (frame) => {
        const fromBehind = laid(frame, onChip.map((p) => at(p.xUm, -p.yUm)));
        expect(refusalOf(fromBehind.map((mark, i) => ({ ...mark, chipUm: onChip[i] ?? at(0, 0) })))?.code).toBe('marksMirrored');
      }),
    );
  });

  it('are recognised as exchanged, and which', () => {
    fc.assert(
      fc.property(anyFrame, fc.constantFrom([0, 1], [0, 2], [1, 3], [2, 3]), (frame, [i = 0, k = 0]) => {
        const marks = laid(frame);
        const swapped = marks.map((mark, m) => ({ ...mark, stageUm: (m === i ? marks[k] : m === k ? marks[i] : mark)?.stageUm ?? mark.stageUm }));
        expect(refusalOf(swapped)).toEqual({ code: 'marksSwapped', first: i, second: k });
      }),
    );
  });

  it('name the one that lies astray, from four on', () => {
    fc.assert(
      fc.property(anyFrame, fc.constantFrom(0, 1, 2, 3), number(0, 2 * Math.PI), (frame, which, angle) => {
        const marks = laid(frame).map((mark, i) => (i === which ? { ...mark, stageUm: moved(mark.stageUm, 400 * Math.cos(angle), 400 * Math.sin(angle)) } : mark));
        expect(refusalOf(marks)).toMatchObject({ code: 'markAstray', mark: which });
        const three = marks.filter((_, i) => i !== (which + 1) % 4);
        expect(refusalOf(three)?.code).toBe('marksDisagree');
      }),
    );
  });

  it('are refused when they lie on one line, where a mirrored chip fits as well, and when there are too few', () => {
    expect(refusalOf(laid({ originUm: at(0, 0), angleDeg: 10 }, [at(0, 0), at(3000, 20), at(6000, 0)]))?.code).toBe('marksOnOneLine');
    expect(refusalOf(laid({ originUm: at(0, 0), angleDeg: 0 }, [at(0, 0)]))).toEqual({ code: 'tooFewMarks', marks: 1, least: 2 });
    expect(refusalOf(laid({ originUm: at(0, 0), angleDeg: 0 }, [at(0, 0), at(500, 0)]))?.code).toBe('marksTooClose');
  });
});
