import type { ProblemKind } from './problem.ts';

/** What a kind of problem means for the night, and what to do about it. */
export interface Remedy {
  readonly title: string;
  readonly means: string;
  readonly next: string;
}

const putBack = 'Put the folder back from a copy if there is one; keep this one aside until then.';

export const remedies: Readonly<Record<ProblemKind, Remedy>> = {
  noDatabase: {
    title: 'The records are gone',
    means: 'There are pictures of a night, but no records that say where and of what they are.',
    next: 'Put `nightjar.sqlite` back from a copy, together with the files `-wal` and `-shm` beside it. Begin no night in this folder before that.',
  },
  database: {
    title: 'The database is damaged',
    means: 'What it says may be wrong in other places too. A power cut alone does not do this: suspect the disk, or a copy that was made while a night ran.',
    next: `Look after the disk (\`smartctl -a\`). ${putBack}`,
  },
  unreadableRow: { title: 'A row cannot be read', means: 'What it recorded is lost or was changed by hand.', next: putBack },
  dangling: { title: 'A record names what is not there', means: 'Rows that belong together were torn apart, which Nightjar never writes: the database was changed from outside.', next: putBack },
  fileMissing: {
    title: 'A picture is missing',
    means: 'Measurements, flakes and places are kept in the database; the picture itself is lost.',
    next: 'Put the file back from a copy. Where there is none, the night is usable without it.',
  },
  fileChanged: {
    title: 'A picture has other bytes than were recorded',
    means: 'It is damaged, or another file was put in its place: do not trust it. Measurements are kept in the database.',
    next: 'Put the file back from a copy, and look after the disk.',
  },
  notAPicture: {
    title: 'A picture cannot be shown',
    means: 'Its bytes are those that were recorded, but they are no whole picture of the recorded size.',
    next: 'The tile can only be looked at again by scanning it anew. Report it with the log: this is a fault of Nightjar.',
  },
  outsidePlan: { title: 'A record does not fit the plan', means: 'It names a tile or a chip that the plan of its night does not have.', next: putBack },
  tileTwice: { title: 'A tile is recorded twice', means: 'Flakes on it may be counted twice.', next: putBack },
  noReason: { title: 'A tile was skipped without a reason', means: 'Nobody can tell why it was left out.', next: 'Treat its place as not looked at.' },
  tilesMissing: {
    title: 'Planned tiles have no record',
    means: 'The night says that it is finished, yet these places were not looked at, or their records are lost.',
    next: 'Scan the chip anew, or put the folder back from a copy.',
  },
  story: {
    title: 'The states of the night do not follow from each other',
    means: 'A change of state is missing or was changed; tiles and flakes are not touched by it.',
    next: 'Nothing, if the rest is sound; keep the log with the records.',
  },
};
