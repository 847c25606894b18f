import { compileDescription, descriptionSchema, type Description, type DevicePlan } from '../../drivers/described/index.ts';
import type { SourceText } from '../config/sourceText.ts';
import { readSource } from '../config/readSource.ts';
import { schemaProblems, withLines } from '../config/schemaProblems.ts';
import { readYaml } from '../config/yamlSource.ts';
import { NightjarError } from '../errors/index.ts';
import type { ConfigProblem } from '../errors/index.ts';
import { problemWords } from './problemWords.ts';

export interface CheckedDescription {
  readonly description: Description;
  readonly plan: DevicePlan;
}

/** Reads a device's description. Throws `badConfig` with every problem that was found and its line; `file` is only for the message. */
export function parseDescription({ text, file }: SourceText): CheckedDescription {
  const read = readYaml(text);
  if (!read.ok) return fail(file, read.problems);
  const { source } = read;
  const checked = descriptionSchema.safeParse(source.data);
  if (!checked.success) return fail(file, withLines(schemaProblems(descriptionSchema, source.data, checked.error), source));
  const compiled = compileDescription(checked.data);
  if (compiled.ok) return { description: checked.data, plan: compiled.plan };
  const placed = compiled.problems.map((problem) => ({ path: problem.path, message: problemWords(problem) }));
  return fail(file, withLines(placed, source));
}

function fail(file: string, problems: readonly ConfigProblem[]): never {
  throw new NightjarError('badConfig', { file, problems, checkWith: 'describe' });
}

/** The same from a file. Throws `noSuchFile`, `unreadableFile` or `badConfig`. */
export async function readDescription(file: string): Promise<CheckedDescription> {
  return parseDescription(await readSource(file));
}
