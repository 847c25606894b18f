import { partPlans } from './compileParts.ts';
import { StepReader } from './compileSteps.ts';
import { withControls } from './controlCharacters.ts';
import type { DevicePlan } from './plan.ts';
import type { DescriptionProblem } from './problems.ts';
import { partNames, type Description } from './schema.ts';

export type CompileResult = { readonly ok: true; readonly plan: DevicePlan } | { readonly ok: false; readonly problems: readonly DescriptionProblem[] };

/** Reads every template and pattern of a description, and finds what its schema cannot see. Only what comes out of here is ever spoken. */
export function compileDescription(description: Description): CompileResult {
  const { maker, model, line } = description;
  const reader = new StepReader(description);
  if (!partNames.some((name) => description[name])) reader.add([], { code: 'noPart' });
  for (const key of ['terminator', 'replyTerminator'] as const) if (/[^\x00-\x7f]/.test(line[key] ?? '')) reader.add(['line', key], { code: 'notAscii', text: line[key] ?? '' });
  const plan: DevicePlan = {
    maker,
    model,
    line: { ...line, replyTerminator: withControls(line.replyTerminator ?? line.terminator) },
    identify: reader.step(description.identify, ['identify'], { fields: 'any', isRepeatable: true, isQuestion: true }),
    opening: reader.steps(description.opening, ['opening']),
    closing: reader.steps(description.closing, ['closing']),
    errorQuery: errorQueryPlan(reader, description.errorQuery),
    unsolicited: description.unsolicited.map(({ line: text, means }, index) => ({ pattern: reader.pattern(text, ['unsolicited', index, 'line'], ['code', 'text']), means })),
    parts: partPlans(reader, description),
  };
  return reader.problems.length > 0 ? { ok: false, problems: reader.problems } : { ok: true, plan };
}

/** Not repeatable: reading an error out takes it off the device's list, so that a second question would hide it. */
function errorQueryPlan(reader: StepReader, raw: Description['errorQuery']): DevicePlan['errorQuery'] {
  if (!raw) return undefined;
  const known = ['code', 'text'];
  return {
    ask: reader.step({ send: raw.send, errors: [], bare: false }, ['errorQuery']),
    good: reader.patterns(raw.good, ['errorQuery', 'good'], known),
    bad: reader.patterns(raw.bad, ['errorQuery', 'bad'], known),
  };
}
