import fc from 'fast-check';
import { isNightjarError, sentenceFor } from '../../daemon/errors/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';

/** One thing that comes from outside, in one way of going wrong. */
export interface Trial {
  readonly name: string;
  /** Share of the usual number of runs that it gets: less where a run is dear. */
  readonly share: number;
  run(numRuns: number, seed: number, beat: () => void): Promise<TrialEnd>;
}

export interface TrialEnd {
  readonly runs: number;
  /** What broke the law: the smallest counterexample, with the seed and path that bring it back. */
  readonly failure?: string;
}

export interface Door {
  readonly name: string;
  readonly trials: readonly Trial[];
}

/** No input may take longer than this of the processor's time: a thousand times what a usual one takes. */
const LONGEST_CPU_S = 4;
/** A sentence is for a person. */
const LONGEST_SENTENCE = 20_000;

async function within<T>(input: T, take: (input: T) => void | Promise<void>): Promise<void> {
  const before = process.cpuUsage();
  await take(input);
  const { user, system } = process.cpuUsage(before);
  const tookS = (user + system) / 1e6;
  if (tookS > LONGEST_CPU_S) throw new Error(`it took ${tookS.toFixed(1)} s`);
}

/** A counterexample is shown so far: longer ones come back by their seed. */
const SHOWN_CHARACTERS = 1500;

function shown(value: unknown): string {
  const text = fc.stringify(value);
  return text.length > SHOWN_CHARACTERS ? `${text.slice(0, SHOWN_CHARACTERS)}... (${text.length} characters)` : text;
}

function stackOf(error: unknown): string {
  if (!(error instanceof Error)) return `thrown: ${fc.stringify(error)}`;
  return error.cause instanceof Error ? `${error.stack}\nbecause of ${error.cause.stack}` : (error.stack ?? error.message);
}

function failureText<T>({ seed, counterexample, counterexamplePath, numRuns, errorInstance }: fc.RunDetails<T>): string {
  return `seed ${seed}, path ${counterexamplePath}, after ${numRuns} runs: ${stackOf(errorInstance)}\nsmallest counterexample: ${shown(counterexample)}`;
}

/** A trial of a law over inputs; `take` throws where it is broken. */
export function trial<T>(name: string, input: fc.Arbitrary<T>, take: (input: T) => void | Promise<void>, share = 1): Trial {
  return {
    name,
    share,
    async run(numRuns, seed, beat) {
      const property = fc.asyncProperty(input, async (value) => {
        beat();
        await within(value, take);
      });
      const details = await fc.check(property, { numRuns: Math.max(1, Math.round(numRuns * share)), seed });
      return details.failed ? { runs: details.numRuns, failure: failureText(details) } : { runs: details.numRuns };
    },
  };
}

/** The same for inputs that can be gone through one by one. */
export function each<T>(name: string, inputs: readonly T[], take: (input: T) => void | Promise<void>): Trial {
  return {
    name,
    share: 1,
    async run(_numRuns, _seed, beat) {
      for (const [n, input] of inputs.entries()) {
        beat();
        try {
          await within(input, take);
        } catch (error) {
          return { runs: n + 1, failure: `${stackOf(error)}\ninput ${n}: ${shown(input)}` };
        }
      }
      return { runs: inputs.length };
    },
  };
}

/** Control characters, which could make a terminal do things, and marks that turn the direction of what follows; line ends are well. */
const UNFIT = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/;

export function isFit(text: string): boolean {
  return !UNFIT.test(text);
}

/** That an error is of our own kind, says what and where (`names` stands in it), and is fit to be shown. Throws what is not. */
export function requireOwn(error: unknown, names: readonly string[] = []): void {
  if (!isNightjarError(error) && !(error instanceof DriverError)) throw error;
  const { code, sentence } = sentenceFor(error);
  const wrong = [
    code === 'internal' ? 'it counts as a fault of our own' : '',
    sentence.length > LONGEST_SENTENCE ? `its sentence has ${sentence.length} characters` : '',
    !isFit(sentence) ? 'its sentence has control characters' : '',
    /(?<!received )\bundefined\b|\[object /.test(sentence) ? 'its sentence has a hole' : '',
    ...names.filter((name) => !sentence.includes(name)).map((name) => `its sentence does not name ${name}`),
  ].filter((text) => text !== '');
  if (wrong.length > 0) throw new Error(`${wrong.join('; ')}: ${JSON.stringify(sentence.slice(0, 400))}`, { cause: error });
}

/** What a door gives: its value, or `undefined` when it refused as it should. */
export async function answerOf<T>(take: () => T | Promise<T>, names: readonly string[] = []): Promise<T | undefined> {
  try {
    return await take();
  } catch (error) {
    requireOwn(error, names);
    return undefined;
  }
}

export function hold(isKept: boolean, law: string): void {
  if (!isKept) throw new Error(`broken: ${law}`);
}
