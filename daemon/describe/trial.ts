import { openDescribed, type DescribedDevice, type DevicePlan } from '../../drivers/described/index.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { OpenWire } from '../../drivers/line/wire.ts';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import { Transcript } from './transcript.ts';
import { trialSteps, type Found, type TrialStep } from './trialSteps.ts';

/** Said before anything is sent. */
export const caution = [
  'This talks to a device that may move or light something. What may be tried, and by whom, your local rules and people trained on this',
  'instrument decide. Keep hands and loose parts away, raise the objective, and have the switch of the instrument at hand: a stop from here',
  'is no safety device.',
].join('\n');

export interface Trial {
  readonly plan: DevicePlan;
  readonly openWire: OpenWire;
  readonly clock: Clock;
  /** Whether a person lets this be done. */
  readonly ask: (question: string) => Promise<boolean>;
  readonly tell: (line: string) => void;
  /** Ctrl-C: stops what moves, and ends the trial. */
  readonly signal: AbortSignal;
}

export type Outcome = 'works' | 'doesNotWork' | 'notTried';

export interface TrialResult {
  readonly what: string;
  readonly outcome: Outcome;
  /** What was found, or why not. */
  readonly note: string;
}

const MARKS: Readonly<Record<Outcome, string>> = { works: 'works', doesNotWork: 'does NOT work', notTried: 'not tried' };

/** What happened and what to do, without the middle part about what was recorded: nothing was. */
function failureText(error: unknown): string {
  const { happened, next } = sentenceFor(error);
  return `${happened} ${next}`;
}

/** The end of the trial: what works and what does not. */
export function resultsText(results: readonly TrialResult[]): string {
  const width = Math.max(...results.map(({ what }) => what.length));
  const rows = results.map(({ what, outcome, note }) => `  ${what.padEnd(width)}  ${MARKS[outcome].padEnd(13)}  ${note}`.trimEnd());
  return ['What was found:', ...rows].join('\n');
}

class Protocol {
  readonly results: TrialResult[] = [];
  readonly transcript: Transcript;
  readonly #trial: Trial;

  constructor(trial: Trial) {
    this.#trial = trial;
    this.transcript = new Transcript(trial.tell);
  }

  /** Runs one step and notes how it went; undefined when it failed. */
  async attempt<T>(what: string, run: () => Promise<T>, note: (found: T) => Found): Promise<T | undefined> {
    this.#trial.tell(`\n${what}`);
    try {
      const found = await run();
      this.transcript.flush();
      const said = note(found);
      this.#add(typeof said === 'string' ? { what, outcome: 'works', note: said } : { what, outcome: 'notTried', note: said.untried });
      return found;
    } catch (error) {
      this.transcript.flush();
      if (this.#trial.signal.aborted) throw error;
      this.#add({ what, outcome: 'doesNotWork', note: failureText(error) });
      return undefined;
    }
  }

  async step(step: TrialStep): Promise<void> {
    const { what, question } = step;
    if (question !== undefined && !(await this.#trial.ask(question))) {
      this.results.push({ what, outcome: 'notTried', note: 'it was not wanted' });
      return;
    }
    await this.attempt(what, () => step.run(), (found) => found);
  }

  #add(result: TrialResult): void {
    this.results.push(result);
    this.#trial.tell(`  = ${MARKS[result.outcome]}: ${result.note}`);
  }
}

function identityText({ identity }: DescribedDevice): string {
  const said = Object.entries(identity).map(([name, value]) => `${name} ${value}`);
  return said.length === 0 ? 'the right device answers' : `the right device answers: ${said.join(', ')}`;
}

/**
 * Talks to a device step by step, tells what is sent, heard and understood, asks before anything moves or lights up, and ends with what
 * works and what does not. A step that fails does not keep the others from being tried; without the right answer to the first question
 * nothing else is sent. Rejects only with `interrupted`.
 */
export async function tryDevice(trial: Trial): Promise<readonly TrialResult[]> {
  const { plan, openWire, clock, signal } = trial;
  const protocol = new Protocol(trial);
  const device = await protocol.attempt('who is there', () => openDescribed(plan, { openWire, clock, listen: protocol.transcript.hear }), identityText);
  if (!device) return protocol.results;
  try {
    for (const step of trialSteps(device.parts, { clock, signal })) {
      if (signal.aborted) break;
      await protocol.step(step);
    }
  } catch (error) {
    if (!signal.aborted) throw error;
  }
  await protocol.attempt('closing', () => device.close(), () => 'the line is free').catch(() => undefined);
  if (signal.aborted) throw new NightjarError('interrupted', {});
  return protocol.results;
}
