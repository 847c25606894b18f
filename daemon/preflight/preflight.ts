import type { Instrument } from '../../drivers/interfaces/index.ts';
import { toMend, type Finding } from '../doctor/finding.ts';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import { raise } from '../run/approach.ts';
import { changePath } from '../run/changePath.ts';
import { checkDark, checkLinear, checkSettings } from './camera.ts';
import type { Bench, Needs, PreflightCheck } from './check.ts';
import { checkChip } from './chips.ts';
import { checkDisk, checkRecords, checkTime } from './computer.ts';
import { checkDevices } from './devices.ts';
import { checkLamp, checkSteady } from './lamp.ts';
import { checkLimits } from './limits.ts';

/** What became of the checks so far. */
export interface Progress {
  /** In the order in which they were found. */
  readonly findings: readonly Finding[];
  /** What is looked at now; undefined at the end. */
  readonly now?: { readonly name: string; readonly needs: Needs };
  readonly done: number;
  readonly of: number;
  /** Places of the checks that could not be made, for nothing may move. */
  readonly passedOver?: readonly number[];
}

/** Ready; ready but for what a person is to look at; or not ready. */
export type Readiness = 'ready' | 'toBeLookedAt' | 'notReady';

/** The objective up and the night's path in place, the light on: what the checks with light need. */
const setUp: PreflightCheck = {
  name: 'objective up, light on',
  needs: 'motion',
  look: async ({ instrument, path, travel, signal }) => {
    await raise(instrument, travel.safeHeightUm, signal);
    await changePath(instrument, path, travel.safeHeightUm, signal);
    return [];
  },
};

/** What needs nothing first, then what needs light, chip by chip what needs motion, and last what a field in focus serves best. */
function checksFor({ plan }: Bench): readonly PreflightCheck[] {
  return [checkTime, checkDisk, checkRecords, checkLimits, checkDevices, checkLamp, setUp, checkSettings, checkDark, ...plan.chips.map(checkChip), checkSteady, checkLinear];
}

/** What will be looked at, in order. */
export function checkNames(bench: Bench): readonly string[] {
  return checksFor(bench).map(({ name }) => name);
}

/** What a night needs of its limits and devices: without it nothing is moved. */
const groundwork: ReadonlySet<PreflightCheck> = new Set([checkLimits, checkDevices, setUp]);

/**
 * Runs every check in a safe order; one that fails hides no other. Nothing moves where a device or a limit is not as it should be. However it ends, the objective is up
 * afterwards and the lamp stays on, so that it keeps warm. Throws `interrupted` when the signal is aborted.
 * @param tell told before each check and at the end
 */
export async function preflight(bench: Bench, tell: (progress: Progress) => void): Promise<readonly Finding[]> {
  const checks = checksFor(bench);
  const findings: Finding[] = [];
  let mayMove = true;
  let hasMoved = false;
  let reached = 0;
  const passedOver: number[] = [];
  const place = (done: number): Pick<Progress, 'done' | 'of' | 'passedOver'> => ({ done, of: checks.length, passedOver: [...passedOver] });
  try {
    for (const [done, check] of checks.entries()) {
      if (bench.signal.aborted) throw new NightjarError('interrupted', {});
      reached = done;
      tell({ findings: [...findings], now: { name: check.name, needs: check.needs }, ...place(done) });
      if (check !== checkDevices && check.needs !== 'nothing' && !mayMove) {
        passedOver.push(done);
        continue;
      }
      hasMoved ||= check === setUp;
      const found = await lookSafely(check, bench);
      findings.push(...found);
      if (groundwork.has(check) && found.some(({ verdict }) => verdict === 'toMend')) mayMove = false;
    }
  } finally {
    const left = await leaveUp(bench.instrument, bench.travel.safeHeightUm, hasMoved);
    findings.push(...left);
    // Told here, for after a stop nobody gets the list: an objective that stays down must not go unsaid.
    if (left.length > 0) tell({ findings: [...findings], ...place(reached) });
  }
  if (!mayMove) findings.push(toMend('light and focus', 'not looked at: nothing is moved while a device or a limit is not as it should be', 'mend what is said above, then check again'));
  tell({ findings, ...place(checks.length) });
  return findings;
}

async function lookSafely(check: PreflightCheck, bench: Bench): Promise<readonly Finding[]> {
  try {
    return await check.look(bench);
  } catch (error) {
    if (bench.signal.aborted) throw new NightjarError('interrupted', {});
    return [toMend(check.name, `it could not be checked. ${sentenceFor(error).sentence}`, 'see to it, then check again')];
  }
}

async function leaveUp(instrument: Instrument, safeHeightUm: number, hasMoved: boolean): Promise<readonly Finding[]> {
  if (!hasMoved) return [];
  try {
    await raise(instrument, safeHeightUm);
    return [];
  } catch (error) {
    return [toMend('objective', `it could not be lifted. ${sentenceFor(error).sentence}`, 'lift it by hand, with the motors\' power off if it does not obey')];
  }
}

/** Whether the night may begin. */
export function readinessOf(findings: readonly Finding[]): Readiness {
  if (findings.some(({ verdict }) => verdict === 'toMend')) return 'notReady';
  return findings.every(({ verdict }) => verdict === 'ok') ? 'ready' : 'toBeLookedAt';
}

/** What no check can see. */
export const reminders: readonly string[] = [
  'Hang a notice on the door: what runs, until when, whom to call, and how to stop it; tell whoever is responsible for the room.',
  'See that nothing lies in the way of stage and objective, and that chips are dry and fixed.',
  'Stop in the software is not a safety device: know where the switch is that takes the power from the motors.',
];
