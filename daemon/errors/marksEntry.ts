import type { MarksRefusal } from '../../planner/frames/marks.ts';
import type { ErrorEntry } from './codes.ts';
import { counted, lengthUm } from './words.ts';

type Refused = { readonly chip: string } & MarksRefusal;

/** Why marks do not settle a chip's frame, and what to do. People count marks from 1. */
export const marksEntry: ErrorEntry<Refused> = {
  exit: 2,
  say: (refusal) => {
    const [happened, next] = words(refusal);
    return [happened, 'Nothing has moved.', next];
  },
};

function words(r: Refused): readonly [happened: string, next: string] {
  switch (r.code) {
    case 'tooFewMarks':
      return [`Chip ${r.chip} has ${counted(r.marks, 'mark')}; ${r.least} are the least.`, 'Add a mark, or leave the marks out.'];
    case 'marksTooClose':
      return [`The two marks of chip ${r.chip} are ${lengthUm(r.apartUm)} apart: too near to each other to tell its angle.`, `Take marks at least ${lengthUm(r.leastUm)} apart.`];
    case 'marksContradict':
      return [
        `The two marks of chip ${r.chip} are ${lengthUm(Math.abs(r.misfitUm))} ${r.misfitUm > 0 ? 'further apart' : 'nearer to each other'} on the stage than on the chip.`,
        'Check that both marks were found, in this order, and that this is the right chip.',
      ];
    case 'marksOnOneLine':
      return [`The marks of chip ${r.chip} lie on one line, within ${lengthUm(r.widthUm)}: a mirrored chip would fit as well.`, `Take one mark at least ${lengthUm(3 * r.leastUm)} off that line, or give two marks only.`];
    case 'marksMirrored':
      return [`The marks of chip ${r.chip} fit a mirrored chip, and are up to ${lengthUm(r.awayUm)} off on this one.`, 'Look for a coordinate with the wrong sign; is the chip face up, and `mirrored` right in the instrument file?'];
    case 'marksSwapped':
      return [`Marks ${r.first + 1} and ${r.second + 1} of chip ${r.chip} seem to be exchanged: with their places on the stage changed over, all marks fit.`, 'Change the two places over, or find both marks again.'];
    case 'markAstray':
      return [`Mark ${r.mark + 1} of chip ${r.chip} lies ${lengthUm(r.awayUm)} from where the others have it.`, 'Find that mark again, or leave it out.'];
    case 'marksDisagree':
      return [`The marks of chip ${r.chip} do not fit together: mark ${r.worst + 1} is off by ${lengthUm(r.awayUm)}, and ${lengthUm(r.allowedUm)} is allowed.`, 'Find the marks again, and check that this is the right chip.'];
  }
}
