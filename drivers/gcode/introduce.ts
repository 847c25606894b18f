import { DriverError, type Clock, type ErrorDetails } from '../interfaces/index.ts';
import { ASK_SETTINGS, REAL_TIME } from './commands.ts';
import { COMMAND_WITHIN_MS, type Conversation } from './conversation.ts';
import { NEEDED_SETTINGS, type Settings } from './settings.ts';
import type { StatusReport } from './statusReport.ts';

/** While a board starts it says nothing: asked this often. */
const ASK_EVERY_MS = 250;
const UNCLEAR_PAUSE_MS = 10;
/** A controller in a hard alarm answers nothing but a reset; it is tried after this share of the time. */
const RESET_AFTER = 0.5;
const STRANGER_WITHIN_MS = 500;
/** More than this share of bytes that are no text, and it is no text. */
const MOST_ODD = 0.05;
const MOST_READINGS = 8;
/** Its last line can be lost to noise once. */
const MOST_SILENCES = 2;
const CANCEL_WITHIN_MS = 3000;

/** Nobody of this kind is there: says what was heard instead. */
async function whoElse(talk: Conversation, about: ErrorDetails, waitedMs: number): Promise<DriverError> {
  if (talk.bytesHeard === 0) {
    // IEEE 488.2's question for identity: instruments answer it, and others do nothing.
    await talk.command('*IDN?', STRANGER_WITHIN_MS);
  }
  if (talk.bytesHeard === 0) return new DriverError('noAnswer', { ...about, waitedMs });
  const isText = talk.oddBytesHeard <= talk.bytesHeard * MOST_ODD;
  return new DriverError(isText ? 'wrongDevice' : 'garbled', { ...about, ...talk.seen() });
}

/**
 * Waits until the controller speaks: a board that restarts when its port is opened takes a second or two. Rejects with `noAnswer`, `garbled`
 * or `wrongDevice`, and what was seen.
 */
export async function firstStatus(talk: Conversation, clock: Clock, about: ErrorDetails, bootWithinMs: number): Promise<StatusReport> {
  const startMs = clock.now();
  let hasReset = false;
  while (clock.now() - startMs < bootWithinMs) {
    const report = await talk.statusOnce(ASK_EVERY_MS);
    if (typeof report !== 'string') return report;
    if (report === 'unclear') await clock.sleep(UNCLEAR_PAUSE_MS);
    if (hasReset || clock.now() - startMs < bootWithinMs * RESET_AFTER) continue;
    hasReset = true;
    await talk.reset(ASK_EVERY_MS);
  }
  throw await whoElse(talk, about, bootWithinMs);
}

/** Ends a jog that was left behind (by a program that died, say). Rejects with `deviceError` when the controller does something else of its own. */
export async function untilAtRest(talk: Conversation, clock: Clock, about: ErrorDetails): Promise<StatusReport> {
  const untilMs = clock.now() + CANCEL_WITHIN_MS;
  let report = await talk.status();
  while (report.state === 'Jog' && clock.now() < untilMs) {
    await talk.realTime(REAL_TIME.cancelJog);
    await clock.sleep(50);
    report = await talk.status();
  }
  if (report.state === 'Idle' || report.state === 'Alarm') return report;
  throw new DriverError('deviceError', { ...about, state: report.state, what: 'it is busy or held; end that at the controller' });
}

const isComplete = (settings: Settings) => NEEDED_SETTINGS.every((number) => settings.has(number));
const isSame = (a: Settings, b: Settings) => NEEDED_SETTINGS.every((number) => a.get(number) === b.get(number));

/**
 * Reads the controller's settings until two readings agree: a digit changed on its way looks like another setting. Rejects with `timeout`, or
 * with `wrongDevice` where settings of this firmware are missing.
 */
export async function readSettings(talk: Conversation, about: ErrorDetails): Promise<Settings> {
  let before: Settings = new Map();
  let silences = 0;
  for (let attempt = 0; attempt < MOST_READINGS; attempt++) {
    const { outcome, said } = await talk.command(ASK_SETTINGS, COMMAND_WITHIN_MS);
    if (outcome === 'silent') silences++;
    if (silences >= MOST_SILENCES) throw new DriverError('timeout', { ...about, what: `no answer to ${ASK_SETTINGS}`, waitedMs: MOST_SILENCES * COMMAND_WITHIN_MS });
    const settings = new Map(said.flatMap((reply) => (reply.kind === 'setting' ? [[reply.number, reply.value] as const] : [])));
    if (isComplete(settings) && isSame(settings, before)) return settings;
    // A reading with a hole is no witness; the one before it still is.
    if (isComplete(settings) || before.size === 0) before = settings;
  }
  const missing = NEEDED_SETTINGS.filter((number) => !before.has(number)).map((number) => `$${number}`);
  throw new DriverError('wrongDevice', { ...about, what: 'its settings cannot be read, or are not those of this firmware', missing: missing.slice(0, 4).join(' '), ...talk.seen() });
}
