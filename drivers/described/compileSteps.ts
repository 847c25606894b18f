import { withControls } from './controlCharacters.ts';
import { fieldsOf, readPattern, type Pattern } from './pattern.ts';
import type { Step, YesNo } from './plan.ts';
import type { DescriptionProblem, ProblemKind } from './problems.ts';
import type { Description } from './schema.ts';
import { placeholdersOf, readTemplate, type Template } from './template.ts';

export type Path = readonly (string | number)[];
type RawStep = Description['identify'];

/** What an action's commands may hold and its answers may name. */
export interface StepRules {
  readonly values?: readonly string[];
  readonly fields?: readonly string[] | 'any';
  readonly isRepeatable?: boolean;
  readonly isMotion?: boolean;
  /** It is a question: without an answer it is none. */
  readonly isQuestion?: boolean;
}

/** Reads templates and patterns, and gathers everything that is wrong with them on the way. */
export class StepReader {
  readonly problems: DescriptionProblem[] = [];
  readonly terminator: string;
  readonly #replyWithinMs: number;
  readonly #deviceErrors: readonly Pattern[];

  constructor({ line, errors }: Description) {
    this.terminator = withControls(line.terminator);
    this.#replyWithinMs = line.replyWithinMs;
    this.#deviceErrors = this.patterns(errors, ['errors'], ['code', 'text']);
  }

  add(path: Path, problem: ProblemKind): void {
    this.problems.push({ ...problem, path });
  }

  template(text: string, path: Path, known: readonly string[] = []): Template {
    const read = readTemplate(text, known);
    if ('template' in read) return read.template;
    this.add(path, read.problem);
    return [];
  }

  pattern(text: string, path: Path, known: readonly string[] | 'any' = []): Pattern {
    const read = readPattern(text, known);
    if ('pattern' in read) return read.pattern;
    this.add(path, read.problem);
    return [];
  }

  patterns(texts: readonly string[], path: Path, known: readonly string[] = []): Pattern[] {
    return texts.map((text, index) => this.pattern(text, [...path, index], known));
  }

  step(raw: RawStep, path: Path, rules: StepRules = {}): Step {
    const { values = [], fields = [], isRepeatable = false, isMotion = false, isQuestion = false } = rules;
    if (isQuestion && raw.expect === undefined) this.add(path, { code: 'noAnswer' });
    const send = this.template(raw.send, [...path, 'send'], values);
    const hasEnd = !raw.bare && send.some((piece) => piece.kind === 'text' && piece.text.includes(this.terminator));
    if (hasEnd) this.add([...path, 'send'], { code: 'terminatorInside' });
    return {
      send,
      terminator: raw.bare ? '' : this.terminator,
      expect: raw.expect === undefined ? undefined : this.pattern(raw.expect, [...path, 'expect'], fields),
      followedBy: raw.followedBy === undefined ? undefined : this.pattern(raw.followedBy, [...path, 'followedBy']),
      errors: [...this.patterns(raw.errors, [...path, 'errors'], ['code', 'text']), ...this.#deviceErrors],
      replyWithinMs: raw.replyWithinMs ?? this.#replyWithinMs,
      isRepeatable,
      isMotion,
    };
  }

  steps(raw: readonly RawStep[], path: Path, rules: StepRules = {}): Step[] {
    return raw.map((each, index) => this.step(each, [...path, index], rules));
  }

  /** Commands that between them must use every one of these values. */
  commands(raw: readonly RawStep[], path: Path, values: readonly string[], rules: StepRules = {}): Step[] {
    const read = this.steps(raw, path, { ...rules, values });
    const used = read.flatMap(({ send }) => placeholdersOf(send));
    for (const name of values) if (!used.includes(name)) this.add(path, { code: 'missingPlaceholder', name });
    return read;
  }

  /** Questions whose answers must name every one of these values, as numbers. */
  questions(raw: readonly RawStep[], path: Path, fields: readonly string[]): Step[] {
    const read = this.steps(raw, path, { fields, isRepeatable: true, isQuestion: true });
    const named = read.flatMap(({ expect }, index) => (expect ? fieldsOf(expect).map((field) => ({ ...field, index })) : []));
    for (const name of fields) {
      const found = named.find((field) => field.name === name);
      if (!found) this.add(path, { code: 'missingField', name });
      else if (found.type !== 'number' && found.type !== 'integer') this.add([...path, found.index, 'expect'], { code: 'notANumber', name });
    }
    return read;
  }

  /** A question that is answered by one of several lines; which one is seen by the caller. */
  question(send: string, path: Path): Step {
    return this.step({ send, errors: [], bare: false }, path, { isRepeatable: true });
  }

  yesNo(raw: { readonly send: string; readonly yes: readonly string[]; readonly no: readonly string[] }, path: Path, names: readonly [yes: string, no: string]): YesNo {
    return { ask: this.question(raw.send, path), yes: this.patterns(raw.yes, [...path, names[0]]), no: this.patterns(raw.no, [...path, names[1]]) };
  }
}
