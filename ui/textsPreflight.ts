import { timeOfDay } from './format.ts';

/** English texts of the checks before the night. */
export const preflightTexts = {
  label: 'Before the night',
  before: 'The night has not begun.',
  strip: 'Before the night',
  beforeToDo: 'It begins when you start it.',
  checks: 'Checks',
  state: { waiting: 'waiting', underWay: 'under way', skipped: 'not looked at', done: 'done' },
  verdict: { ok: 'ready', toMend: 'NOT READY', advice: 'look', cannotBeTold: 'look' },
  start: 'Start the night',
  again: 'Check again',
  asking: 'Asking...',
  needsLink: 'The line to Nightjar is lost.',
  moving: 'Stage and objective move. Stop is not a safety device: use the switch at the instrument.',
  doneAt: (ms: number): string => `Started now, the night would be done about ${timeOfDay(ms)}.`,
  reminders: 'What no check can see',
};
