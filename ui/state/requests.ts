import type { ClientMessage, ServerMessage } from '../../daemon/server/messages.ts';

/** Where on the page a request was made: its refusal is shown there. */
export type Place = 'now' | 'preflight' | 'stop' | 'there' | 'judge' | 'controls';

export interface Refusal {
  readonly code: string;
  readonly sentence: string;
}

/** What this page has asked for and not yet had an answer to, and the last refusal at each place. */
export interface Requests {
  readonly waiting: Readonly<Record<string, Place>>;
  readonly refusals: Readonly<Partial<Record<Place, Refusal>>>;
}

export const NO_REQUESTS: Requests = { waiting: {}, refusals: {} };

type ClientMessageType = ClientMessage['type'];

/** Where the button for a kind of request stands; `undefined` for those that have none. */
export const PLACE_OF: Readonly<Partial<Record<ClientMessageType, Place>>> = { pause: 'now', goOn: 'now', checkAgain: 'preflight', startNight: 'preflight', stop: 'stop', goToFlake: 'there', endLive: 'there', giveVerdict: 'judge', withdrawVerdict: 'judge', takeControls: 'controls', giveUpControls: 'controls', keepControls: 'controls' };

/** A request was sent: what was refused there before is no longer of interest. */
export function asked(requests: Requests, request: string, place: Place): Requests {
  const { [place]: _, ...refusals } = requests.refusals;
  return { waiting: { ...requests.waiting, [request]: place }, refusals };
}

/** Takes an answer in; other messages change nothing. */
export function answered(requests: Requests, message: ServerMessage): Requests {
  if (message.type !== 'answer' && message.type !== 'refused') return requests;
  const { [message.request]: place, ...waiting } = requests.waiting;
  if (place === undefined) return requests;
  if (message.type === 'answer') return { ...requests, waiting };
  return { waiting, refusals: { ...requests.refusals, [place]: { code: message.code, sentence: message.sentence } } };
}

/** The connection is gone: no answer will come to what was asked over it. */
export function forgotten(requests: Requests): Requests {
  return { ...requests, waiting: {} };
}

/** True while something asked at this place has no answer. */
export function isWaiting(requests: Requests, place: Place): boolean {
  return Object.values(requests.waiting).includes(place);
}
