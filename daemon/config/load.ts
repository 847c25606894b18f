import type { z } from 'zod';
import { NightjarError } from '../errors/index.ts';
import type { ConfigProblem } from '../errors/index.ts';
import { instrumentProblems, runSheetProblems, togetherProblems } from './crossChecks.ts';
import { instrumentSchema } from './instrument.ts';
import type { InstrumentConfig } from './instrument.ts';
import { runSheetSchema } from './runSheet.ts';
import type { RunSheet } from './runSheet.ts';
import { schemaProblems, withLines } from './schemaProblems.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import type { SourceText } from './sourceText.ts';
import { readYaml } from './yamlSource.ts';
import type { YamlSource } from './yamlSource.ts';

export type CheckedFile =
  | { readonly kind: 'instrument'; readonly instrument: InstrumentConfig }
  | { readonly kind: 'runSheet'; readonly runSheet: RunSheet };

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

function keysIn(data: object, schema: typeof instrumentSchema | typeof runSheetSchema): number {
  return Object.keys(data).filter((key) => Object.hasOwn(schema.shape, key)).length;
}

/** Tells by its keys which of the two files this is, and reads it. Throws `badConfig` as they do, or when it is neither. */
export function checkFile(text: string, file: string): CheckedFile {
  const source = sourceOf({ text, file });
  const forInstrument = keysIn(source.data, instrumentSchema);
  const forRunSheet = keysIn(source.data, runSheetSchema);
  if (forInstrument === forRunSheet) {
    const message = `neither an instrument (${Object.keys(instrumentSchema.shape).join(', ')}) nor a run sheet (${Object.keys(runSheetSchema.shape).join(', ')})`;
    return fail(file, [{ line: 1, key: '', message }]);
  }
  return forInstrument > forRunSheet
    ? { kind: 'instrument', instrument: checked(instrumentSchema, source, file, instrumentProblems) }
    : { kind: 'runSheet', runSheet: checked(runSheetSchema, source, file, runSheetProblems) };
}

/**
 * Checks that a run sheet fits the instrument. Throws `badConfig`; with the run sheet's text its lines are named, without it line 1.
 */
export function checkTogether(runSheet: RunSheet, instrument: InstrumentConfig, source?: SourceText): void {
  const problems = togetherProblems(runSheet, instrument);
  if (problems.length === 0) return;
  fail(source?.file ?? 'run sheet', withLines(problems, source ? sourceOf(source) : { lineOf: () => 1 }));
}
