import type { ClientMessage } from './messages.ts';

/**
 * What a message needs: `controls`, the controls in hand; `unlessHeld`, that nobody else has them; `nothing`.
 * Whoever does not see it here does not get it: a new message does not compile without its line.
 */
export type Need = 'controls' | 'unlessHeld' | 'nothing';

export const NEEDS: Readonly<Record<ClientMessage['type'], Need>> = {
  snapshot: 'nothing',
  ping: 'nothing',
  goToFlake: 'controls',
  // Ends a look that was begun with the controls: they may have run out meanwhile, and then it disturbs nobody.
  endLive: 'unlessHeld',
  pause: 'controls',
  goOn: 'controls',
  checkAgain: 'controls',
  startNight: 'controls',
  // Whoever sees that something is wrong stops it, without asking for anything first.
  stop: 'nothing',
  // Moves nothing. Two people who judge at once do not disturb each other: numbers are taken one after another, each with its
  // initials, the later one of a terrace counts, and each can be taken back.
  giveVerdict: 'nothing',
  nextToJudge: 'nothing',
  withdrawVerdict: 'nothing',
  takeControls: 'nothing',
  giveUpControls: 'nothing',
  keepControls: 'nothing',
};
