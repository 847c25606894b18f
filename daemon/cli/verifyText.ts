import { counted } from '../errors/index.ts';
import { problemKinds, type Problem, type ProblemKind } from '../records/check/problem.ts';
import type { VerifyReport } from '../records/check/verify.ts';
import { remedies } from '../records/check/words.ts';

/** Problems of one kind that are named one by one; the rest is counted. */
const mostNamed = 12;

function named(lines: readonly string[]): string[] {
  const rest = lines.length - mostNamed;
  return [...lines.slice(0, mostNamed), ...(rest > 0 ? [`... and ${rest} more (all of them with --json)`] : [])].map((line) => `    ${line}`);
}

function kindText(kind: ProblemKind, problems: readonly Problem[]): string[] {
  const { title, means, next } = remedies[kind];
  const lines = named(problems.map(({ where, what }) => `${where}: ${what}`));
  return ['', `${title}${problems.length > 1 ? ` (${problems.length})` : ''}`, ...lines, `  -> ${means}`, `  -> ${next}`];
}

function harmless(title: string, files: readonly string[], why: string): string[] {
  return files.length === 0 ? [] : ['', `Harmless: ${counted(files.length, 'file')} ${title}`, ...named(files), `  -> ${why}`];
}

function headline(folder: string, { sound, problems, filesChecked, rowsRead }: VerifyReport): string {
  const looked = `${counted(rowsRead, 'row')} and ${counted(filesChecked, 'file')} were checked.`;
  return sound ? `SOUND: all that is recorded in ${folder} is there and fits together. ${looked}` : `NOT SOUND: ${counted(problems.length, 'problem')} in ${folder}. ${looked}`;
}

function limits({ isInUse }: VerifyReport, deep: boolean): string[] {
  return [
    ...(isInUse ? ['', 'A Nightjar writes to this folder now: what it records from here on, and files that no record names yet, were not judged.'] : []),
    ...(deep ? [] : ['', 'Pictures were compared with their recorded bytes, and not decoded: --deep does that too.']),
  ];
}

/** For people: sound or not, then each kind of problem with what it means and what to do, then what is harmless. */
export function verifyText(folder: string, report: VerifyReport, deep: boolean): string {
  const byKind = problemKinds.map((kind) => [kind, report.problems.filter((problem) => problem.kind === kind)] as const);
  return [
    headline(folder, report),
    ...byKind.flatMap(([kind, problems]) => (problems.length === 0 ? [] : kindText(kind, problems))),
    ...harmless('written by halves', report.leftovers, 'The next start removes them.'),
    ...harmless('that no record names', report.orphans, 'A process ended before it recorded them, or somebody put them there. The next start sets those of the last night aside.'),
    ...harmless('set aside at a start', report.setAside, 'Pictures of tiles that were never recorded, and were taken again. They may be deleted when the rest is sound.'),
    ...limits(report, deep),
  ].join('\n');
}
