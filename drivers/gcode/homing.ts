import { DriverError } from '../interfaces/index.ts';
import { alarmError } from './alarm.ts';
import { HOME, UNLOCK } from './commands.ts';
import { COMMAND_WITHIN_MS, type Conversation } from './conversation.ts';
import type { Session } from './session.ts';
import { isSamePlace } from './whereabouts.ts';

const HOME_WITHIN_MS = 120_000;
const RESET_WITHIN_MS = 2000;
const MOST_LOOKS = 20;

/** Brings a controller out of a hard alarm, in which it hears nothing but a reset. One that is only locked (alarm 0) needs none. */
async function leaveAlarm(session: Session, talk: Conversation): Promise<void> {
  if ((session.known.alarm ?? 0) === 0) return;
  if (!(await talk.reset(RESET_WITHIN_MS))) throw new DriverError('timeout', { ...session.about, what: 'no restart after a reset', waitedMs: RESET_WITHIN_MS });
}

/** Two reports that agree on a place of rest, and what the second says of the switches. */
async function restingPlace(session: Session, talk: Conversation): Promise<{ readonly mm: readonly number[]; readonly pins: string; readonly isLocked: boolean }> {
  let before: readonly number[] = [];
  for (let looks = 0; looks < MOST_LOOKS; looks++) {
    const { report, mm } = await session.look(talk);
    const isResting = report.state === 'Idle' || report.state === 'Alarm';
    if (isResting && isSamePlace(mm, before)) return { mm, pins: report.pins, isLocked: report.state === 'Alarm' };
    before = isResting ? mm : [];
  }
  throw new DriverError('timeout', { ...session.about, what: 'it does not come to rest' });
}

/** A stop while homing: a cancel does nothing then, only a restart of the firmware halts the motors. */
async function homingAnswer(session: Session, talk: Conversation, stop: AbortSignal): Promise<void> {
  const onStop = () => {
    void talk.reset(RESET_WITHIN_MS).catch(() => undefined);
  };
  stop.addEventListener('abort', onStop, { once: true });
  try {
    const withinMs = session.options.homeWithinMs ?? HOME_WITHIN_MS;
    const { outcome, code } = await talk.command(HOME, withinMs);
    if (outcome === 'error') throw new DriverError('deviceError', { ...session.about, command: HOME, error: code });
    if (outcome === 'silent') {
      await talk.reset(RESET_WITHIN_MS);
      throw new DriverError('timeout', { ...session.about, what: 'homing', waitedMs: withinMs });
    }
  } finally {
    stop.removeEventListener('abort', onStop);
  }
}

/**
 * Lets the controller find its switches (all axes that it homes, in its own order). Silent while it lasts: not even a status is answered. Rejects with
 * `alarm`, `timeout`, `stopped`, `deviceError`, `disconnected`; the position is lost then.
 */
export async function home(session: Session, talk: Conversation, stop: AbortSignal): Promise<void> {
  await leaveAlarm(session, talk);
  await talk.catchUp();
  if (stop.aborted) throw new DriverError('stopped', session.about);
  session.lose('homing has not ended');
  try {
    await homingAnswer(session, talk, stop);
  } catch (error) {
    if (stop.aborted) throw new DriverError('stopped', session.about, { cause: error });
    throw error;
  }
  if (stop.aborted) throw new DriverError('stopped', session.about);
  const { mm, isLocked } = await restingPlace(session, talk);
  if (isLocked) throw alarmError(session.about, session.known.alarm ?? 0);
  session.found(mm, [0, 0, 0]);
}

/**
 * Takes the place where everything stands now as the reference place: for controllers without switches, after a person has brought the stage there.
 * Unlocks an alarm; rejects with `alarm` while a limit switch is still touched.
 */
export async function takeReference(session: Session, talk: Conversation): Promise<void> {
  await leaveAlarm(session, talk);
  const before = await restingPlace(session, talk);
  if (/[XYZ]/.test(before.pins)) throw new DriverError('alarm', { ...session.about, what: 'a limit switch is still touched', pins: before.pins });
  if (before.isLocked) {
    const { outcome, code } = await talk.command(UNLOCK, COMMAND_WITHIN_MS);
    if (outcome !== 'ok') throw new DriverError('deviceError', { ...session.about, command: UNLOCK, error: code });
  }
  const { mm, isLocked } = await restingPlace(session, talk);
  if (isLocked) throw alarmError(session.about, session.known.alarm ?? 0);
  session.found(mm, mm);
}
