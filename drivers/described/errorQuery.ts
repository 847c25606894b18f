import { DriverError } from '../interfaces/index.ts';
import type { Connection } from './connection.ts';
import { visible } from './controlCharacters.ts';
import { converse, type Manners } from './converse.ts';
import { match, type Fields } from './pattern.ts';
import type { DevicePlan } from './plan.ts';
import { fill } from './template.ts';

/** A device keeps a list of errors, and some keep a long one. */
const MOST_ERRORS = 32;

type Query = NonNullable<DevicePlan['errorQuery']>;

function firstMatch(patterns: readonly Query['good'][number][], line: string): Fields | undefined {
  for (const pattern of patterns) {
    const fields = match(pattern, line);
    if (fields) return fields;
  }
  return undefined;
}

/**
 * Asks until the device's list of errors is empty. Rejects with `deviceError` for the first of them; what stood behind it is read too, so
 * that no later command is blamed for it.
 */
export async function askForErrors(connection: Connection, query: Query, sent: string, manners: Manners, signal?: AbortSignal): Promise<void> {
  const understand = (line: string) => {
    const good = firstMatch(query.good, line);
    const fields = good ?? firstMatch(query.bad, line);
    return fields && { isGood: good !== undefined, fields, line };
  };
  let first: DriverError | undefined;
  for (let asked = 0; asked < MOST_ERRORS; asked++) {
    const answer = await converse(connection, { step: query.ask, text: fill(query.ask.send, {}), understand }, manners, signal);
    if (!answer || answer.isGood) break;
    first ??= new DriverError('deviceError', { device: manners.device, sent: visible(sent), ...Object.fromEntries(answer.fields), seen: visible(answer.line) });
  }
  if (first) throw first;
}
