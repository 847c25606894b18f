import { dirname } from 'node:path';
import { checkTimeOfDay } from '../doctor/timeOfDay.ts';
import { advice, ok, toMend, type Finding } from '../doctor/finding.ts';
import { bytes, figure } from '../errors/words.ts';
import { DISK_MARGIN } from '../run/prepare.ts';
import type { Bench, PreflightCheck } from './check.ts';

/** A disk shall be so many times as fast as the plan needs on average: tiles come in bursts (common practice, no source). */
const SPEED_MARGIN = 4;

function room(freeBytes: number, { plan, ground }: Bench): Finding {
  const wanted = plan.diskBytes * DISK_MARGIN;
  const seen = `${bytes(freeBytes)} free, and the plan wants ${bytes(plan.diskBytes)}`;
  if (freeBytes < wanted) return toMend('disk space', `${seen}: less than a tenth would be left over`, `make room below ${dirname(ground.directory)}, or keep the records elsewhere with --data`);
  return ok('disk space', seen);
}

async function speed({ plan, ground }: Bench): Promise<Finding> {
  const { bytes: written, ms } = await ground.tryWriting();
  const bytesPerS = (1000 * written) / Math.max(1, ms);
  const wanted = plan.diskBytes / Math.max(1, plan.forecastS);
  const seen = `${bytes(bytesPerS)} a second to be there for good, and the night writes ${bytes(wanted)} a second on average`;
  if (bytesPerS < wanted) return toMend('disk speed', seen, 'take a faster disk with --data, or keep no raw frames');
  if (bytesPerS < SPEED_MARGIN * wanted) return advice('disk speed', `${seen}: the stage may have to wait for it`, 'take a faster disk with --data, or end what else writes to it');
  return ok('disk speed', seen);
}

/** Room for the whole plan, and a disk that keeps up. */
export const checkDisk: PreflightCheck = { name: 'disk', needs: 'nothing', look: async (bench) => [room(await bench.ground.freeBytes(), bench), await speed(bench)] };

/** Whether the data folder can take this night. */
export const checkRecords: PreflightCheck = {
  name: 'records',
  needs: 'nothing',
  look: async ({ ground }) => {
    const { trouble, problems, unfinished } = ground.records();
    if (trouble !== undefined) return [toMend('records', trouble, 'keep the records elsewhere with --data, or mend what is said')];
    if (problems.length > 0) return [toMend('records', `the database is damaged: ${problems[0]}`, 'keep the folder as it is, and begin in another one with --data')];
    if (unfinished !== undefined) return [toMend('records', `"${unfinished}" has not come to its end`, 'go on with it by `--resume`, or begin in another folder with --data')];
    return [ok('records', 'sound, and no night in them is unfinished')];
  },
};

/** "04:40", or with the day where it is not the same one: what a person's clock will show. */
export function clockText(atMs: number, nowMs: number): string {
  const [at, now] = [new Date(atMs), new Date(nowMs)];
  const two = (value: number): string => String(value).padStart(2, '0');
  const time = `${two(at.getHours())}:${two(at.getMinutes())}`;
  return at.toDateString() === now.toDateString() ? time : `${time} on ${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}

/** When the night will be over, begun now; the whole budget of close-ups is counted. */
export function forecastEndMs({ plan, ground }: Pick<Bench, 'plan' | 'ground'>): number {
  return ground.surroundings.now() + 1000 * (plan.forecastS + (plan.closeUps?.budgetS ?? 0));
}

/** The computer's time, and when the night will be over. */
export const checkTime: PreflightCheck = {
  name: 'clock and end',
  needs: 'nothing',
  look: async (bench) => {
    const { ground, told } = bench;
    const nowMs = ground.surroundings.now();
    const endMs = forecastEndMs(bench);
    const seen = `done at ${clockText(endMs, nowMs)}, begun now`;
    const { endBeforeMs } = told;
    const late = endBeforeMs !== undefined && endMs > endBeforeMs;
    const end = late ? toMend('forecast end', `${seen}: ${figure((endMs - endBeforeMs) / 60_000, 0)} min after ${clockText(endBeforeMs, nowMs)}`, 'take fewer chips, a weaker objective, or begin earlier') : ok('forecast end', seen);
    return [...(await checkTimeOfDay(ground)), end];
  },
};
