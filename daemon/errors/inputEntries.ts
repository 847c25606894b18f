import { marksEntry } from './marksEntry.ts';
import type { PlanRefusal } from '../../planner/plan/types.ts';
import type { ConfigProblem, EntriesFor, InputDetails, PlanDetails, RecordsDetails, Sentence } from './codes.ts';
import { planEntries } from './planEntries.ts';
import { brief, bytes, counted, stopped } from './words.ts';

function sayRefusal<C extends PlanRefusal['code']>(code: C, refusal: PlanDetails[C]): Sentence {
  return planEntries[code].say(refusal);
}

function refusalSentence(refusal: PlanRefusal): Sentence {
  return sayRefusal(refusal.code, refusal);
}

/** More than a screen of errors is read by nobody: the first ones come first. */
const MOST_PROBLEMS = 30;
const MOST_KEY_CHARACTERS = 120;
const MOST_MESSAGE_CHARACTERS = 1000;

function problemLines(problems: readonly ConfigProblem[]): string {
  const lines = problems.slice(0, MOST_PROBLEMS).map(({ line, key, message }) => `  line ${line}, ${key === '' ? 'whole file' : brief(key, MOST_KEY_CHARACTERS)}: ${brief(message, MOST_MESSAGE_CHARACTERS)}`);
  const more = problems.length - lines.length;
  return [...lines, ...(more > 0 ? [`  and ${counted(more, 'more error')}`] : [])].join('\n');
}

/** Files that people write, and the command line. */
export const inputEntries: EntriesFor<InputDetails> = {
  badConfig: {
    exit: 2,
    say: ({ file, problems, checkWith = 'check' }) => [
      `${file} has ${counted(problems.length, 'error')}:\n${problemLines(problems)}\n`,
      'Nothing was started.',
      `Correct ${problems.length === 1 ? 'it' : 'them'}, then run \`nightjar ${checkWith} ${file}\`.`,
    ],
  },
  marksRefused: marksEntry,
  planRefused: {
    exit: 2,
    say: ({ refusals }) => {
      const all = refusals.map(refusalSentence).map(([happened, , next]) => `  ${happened} ${next}\n`);
      return [`The plan is refused:\n${all.join('')}`, 'Nothing has moved.', 'Correct the run sheet, then look at it again with `nightjar plan`.'];
    },
  },
  noSuchFile: { exit: 2, say: ({ file }) => [`There is no file ${file}.`, 'Nothing was started.', 'Check the name and the folder.'] },
  unreadableFile: { exit: 2, say: ({ file, reason }) => [`${file} cannot be read: ${stopped(reason)}`, 'Nothing was started.', 'Check the file and who may read it.'] },
  badUsage: { exit: 2, say: ({ reason }) => [stopped(reason), 'Nothing was started.', 'See `nightjar --help`.'] },
  badTable: {
    exit: 2,
    say: ({ file, problems }) => [
      `The table ${file} has ${counted(problems.length, 'error')}:\n${problems.map((p) => `  ${p.line === 0 ? 'whole file' : `line ${p.line}`}: ${p.message}`).join('\n')}\n`,
      'Nothing was computed.',
      `Correct ${problems.length === 1 ? 'it' : 'them'}, then try again.`,
    ],
  },
  unknownMaterial: {
    exit: 2,
    say: ({ material, known }) => [
      `There is no optical data for "${material}".`,
      'Nothing was computed.',
      `There is: ${known.join(', ')}; a table of your own is read with \`--material-file\`.`,
    ],
  },
  unknownTray: {
    exit: 2,
    say: ({ tray, known }) => [`The simulator knows no tray "${tray}".`, 'Nothing was started.', `Use one of: ${known.join(', ')}.`],
  },
};

function wanted(wantedBytes: number | undefined, freeBytes: number | undefined): string {
  const parts = [
    ...(wantedBytes === undefined ? [] : [`${bytes(wantedBytes)} wanted`]),
    ...(freeBytes === undefined ? [] : [`${bytes(freeBytes)} free`]),
  ];
  return parts.length === 0 ? '' : ` (${parts.join(', ')})`;
}

/** The data folder. */
export const recordsEntries: EntriesFor<RecordsDetails> = {
  diskFull: {
    exit: 3,
    say: (d) => [
      `The disk that holds ${d.directory} is full${wanted(d.wantedBytes, d.freeBytes)}.`,
      'Every tile recorded before is kept; the last one was not recorded and will be taken again.',
      'Free some space, then go on with `--resume`.',
    ],
  },
  alreadyRecorded: {
    exit: 1,
    say: ({ tile }) => [`Tile ${tile} is already recorded.`, 'The first record is kept as it was.', 'Nothing is to be done; go on with the next tile.'],
  },
  damagedRecords: {
    exit: 1,
    say: (d) => [
      `The records in ${d.directory} are damaged: table ${d.table}, row ${d.row}: ${stopped(d.reason)}`,
      'Nothing was changed or deleted.',
      'Copy the folder aside, then put back a copy of the records, or begin in a new data folder.',
    ],
  },
  otherVersion: {
    exit: 2,
    say: (d) => [
      `The records in ${d.directory} are of version ${d.found}; this Nightjar reads version ${d.wanted}.`,
      'Nothing was changed.',
      d.found > d.wanted ? 'Open them with the newer Nightjar that wrote them.' : 'Choose another data folder, or the Nightjar that wrote them.',
    ],
  },
  inUse: {
    exit: 2,
    say: ({ directory }) => [
      `Another Nightjar is writing to ${directory}.`,
      'Nothing was changed.',
      'End the other one, or choose another data folder with `--data`.',
    ],
  },
  writeFailed: {
    exit: 3,
    say: ({ file, reason }) => [
      `${file} could not be written: ${stopped(reason)}`,
      'Every tile recorded before is kept.',
      'Check the disk and who may write to the folder, then go on with `--resume`.',
    ],
  },
};
