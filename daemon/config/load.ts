import type { z } from 'zod';
import { NightjarError } from '../errors/index.ts';
import type { ConfigProblem } from '../errors/index.ts';
import { instrumentProblems, runSheetProblems, togetherProblems } from './crossChecks.ts';
import { instrumentSchema } from './instrument.ts';
import type { InstrumentConfig } from './instrument.ts';
import { runSheetSchema } from './runSheet.ts';
import type { RunSheet } from './runSheet.ts';
import { peopleProblems, peopleSchema, type People } from './people.ts';
import { schemaProblems, withLines } from './schemaProblems.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import type { SourceText } from './sourceText.ts';
import { readYaml } from './yamlSource.ts';
import type { Path, YamlSource } from './yamlSource.ts';

export type CheckedFile =
  | { readonly kind: 'instrument'; readonly instrument: InstrumentConfig }
  | { readonly kind: 'runSheet'; readonly runSheet: RunSheet }
  | { readonly kind: 'people'; readonly people: People };

/** A file that tells who is told, with the way back to its lines. */
export interface ReadPeople {
  readonly people: People;
  /** Line of the setting at a path, for what is found wrong only when it is used. */
  readonly lineOf: (path: Path) => number;
}

function fail(file: string, problems: readonly ConfigProblem[]): never {
  throw new NightjarError('badConfig', { file, problems });
}

function sourceOf({ text, file }: SourceText): YamlSource {
  const read = readYaml(text);
  return read.ok ? read.source : fail(file, read.problems);
}

function checked<T>(schema: z.ZodType<T>, source: YamlSource, file: string, more: (value: T) => PlacedProblem[]): T {
  const result = schema.safeParse(source.data);
  if (!result.success) return fail(file, withLines(schemaProblems(schema, source.data, result.error), source));
  const problems = more(result.data);
  return problems.length > 0 ? fail(file, withLines(problems, source)) : result.data;
}

/** Reads `instrument.yaml`. Throws `badConfig` with every problem that was found; `file` is only for the message. */
export function parseInstrument(text: string, file: string): InstrumentConfig {
  return checked(instrumentSchema, sourceOf({ text, file }), file, instrumentProblems);
}

/** Reads a run sheet. Throws `badConfig` with every problem that was found; `file` is only for the message. */
export function parseRunSheet(text: string, file: string): RunSheet {
  return checked(runSheetSchema, sourceOf({ text, file }), file, runSheetProblems);
}

/** Reads `people.yaml`. Throws `badConfig` with every problem that was found; `file` is only for the message. */
export function parsePeople(text: string, file: string): ReadPeople {
  const source = sourceOf({ text, file });
  return { people: checked(peopleSchema, source, file, peopleProblems), lineOf: (path) => source.lineOf(path) };
}

interface Kind {
  readonly article: string;
  readonly schema: z.ZodObject;
  readonly read: (source: YamlSource, file: string) => CheckedFile;
}

const kinds: readonly Kind[] = [
  { article: 'an instrument', schema: instrumentSchema, read: (source, file) => ({ kind: 'instrument', instrument: checked(instrumentSchema, source, file, instrumentProblems) }) },
  { article: 'a run sheet', schema: runSheetSchema, read: (source, file) => ({ kind: 'runSheet', runSheet: checked(runSheetSchema, source, file, runSheetProblems) }) },
  { article: 'a list of people to tell', schema: peopleSchema, read: (source, file) => ({ kind: 'people', people: checked(peopleSchema, source, file, peopleProblems) }) },
];

/** Tells by its keys which of the files this is, and reads it. Throws `badConfig` as they do, or when it is none. */
export function checkFile(text: string, file: string): CheckedFile {
  const source = sourceOf({ text, file });
  const known = kinds.map((kind) => ({ kind, keys: Object.keys(source.data).filter((key) => Object.hasOwn(kind.schema.shape, key)).length }));
  const [best, next] = known.sort((a, b) => b.keys - a.keys);
  if (best && next && best.keys > next.keys) return best.kind.read(source, file);
  const message = `neither ${kinds.map(({ article, schema }) => `${article} (${Object.keys(schema.shape).join(', ')})`).join(' nor ')}`;
  return fail(file, [{ line: 1, key: '', message }]);
}

/**
 * Checks that a run sheet fits the instrument. Throws `badConfig`; with the run sheet's text its lines are named, without it line 1.
 */
export function checkTogether(runSheet: RunSheet, instrument: InstrumentConfig, source?: SourceText): void {
  const problems = togetherProblems(runSheet, instrument);
  if (problems.length === 0) return;
  fail(source?.file ?? 'run sheet', withLines(problems, source ? sourceOf(source) : { lineOf: () => 1 }));
}
