/** What is done about a trouble before the place is tried again. */
export type Mend =
  /** Waiting a moment, the objective as it is: the next try asks everything anew. */
  | 'wait'
  /** Objective up; axes that do not know where they are find their switches. */
  | 'reference'
  /** Camera and lamp are told their settings once more. */
  | 'setLight'
  /** Every device is asked once a second, for ten minutes; what was away is made ready as the night has it. */
  | 'awaitReturn';

/** What the run does about one kind of trouble at a tile. Tries are bounded by the machine, waits grow from one to the next. */
export type Policy =
  | { readonly act: 'park' }
  | {
      readonly act: 'retry';
      readonly mend: Mend;
      /** After the last try: the place is left out by name, or, where it is no fault of the place, the run parks and the place is still to be taken. */
      readonly then: 'skip' | 'park';
    };

const park: Policy = { act: 'park' };
const skipAfter = (mend: Mend): Policy => ({ act: 'retry', mend, then: 'skip' });
const parkAfter = (mend: Mend): Policy => ({ act: 'retry', mend, then: 'park' });

/** What no retry mends, or what must not be tried again; then what a device does; then what becomes of frames. */
const policies: Readonly<Record<string, Policy>> = {
  closed: park,
  limit: park,
  unsafeHeight: park,
  tooFast: park,
  lampLimit: park,
  settingsDiffer: park,
  wrongDevice: park,
  noAccess: park,
  libraryMissing: park,
  notForcedOff: park,
  formatNotOffered: park,
  diskFull: park,
  writeFailed: park,
  damagedRecords: park,
  lampFaded: park,
  noProgress: park,

  stalled: skipAfter('reference'),
  timeout: skipAfter('reference'),
  alarm: parkAfter('reference'),
  disconnected: parkAfter('awaitReturn'),
  noAnswer: parkAfter('awaitReturn'),
  noSuchLine: parkAfter('awaitReturn'),
  lineBusy: parkAfter('awaitReturn'),
  noSuchCamera: parkAfter('awaitReturn'),
  cameraBusy: parkAfter('awaitReturn'),
  pipeEnded: parkAfter('awaitReturn'),
  positionLost: parkAfter('awaitReturn'),
  badReply: skipAfter('wait'),
  garbled: skipAfter('wait'),

  focusLost: skipAfter('wait'),
  noFrame: skipAfter('setLight'),
  badFrame: skipAfter('setLight'),
  blackFrame: skipAfter('setLight'),
  fullFrame: skipAfter('setLight'),
};

/** Trouble that nobody foresaw is tried again, and costs its place when that does not help; several places in a row park the run. */
const unforeseen: Policy = skipAfter('wait');

/** What the run does about a trouble, by its code. */
export function policyFor(code: string): Policy {
  return policies[code] ?? unforeseen;
}

/** Before the first move somebody is still there: what passes by itself is tried again, all else is said at once. */
export function isWorthAnotherStart(code: string): boolean {
  const policy = policies[code];
  return policy?.act === 'retry' && (policy.mend === 'wait' || policy.mend === 'setLight' || code === 'timeout');
}

/** What a close-up meets when nothing is wrong with a device: the next one needs no recovery before it. */
export const noFaultOfADevice: ReadonlySet<string> = new Set(['focusNotFound', 'classifierFailed', 'outOfFocus']);
