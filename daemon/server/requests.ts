import { NightjarError, sentenceFor } from '../errors/index.ts';
import type { BrowserLink } from './browserLink.ts';
import { encode } from './browserLink.ts';
import type { ControlsDesk, Seat } from './controlsDesk.ts';
import type { NightControls, PreflightControls } from './feed.ts';
import type { ServerLog } from './log.ts';
import { clientMessageSchema } from './messages.ts';
import type { ClientMessage } from './messages.ts';
import { RateMeter } from './rates.ts';

/** After so many messages in a row that are not understood, the browser is let go. */
export const MOST_BAD_MESSAGES = 5;
/** Requests of one browser that may wait for the instrument at a time. */
export const MOST_WAITING = 8;
/** A person with a finger on a key asks some thirty times a second. */
const MESSAGES = { burst: 120, perS: 30 };
/** Stop is metered by itself, so that nothing else can use up its share. */
const STOPS = { burst: 20, perS: 5 };
/** After so many messages in a row above the rate, the browser is let go. */
const MOST_ABOVE_RATE = 100;

export interface RequestsContext {
  readonly link: BrowserLink;
  readonly controls: NightControls;
  readonly log: ServerLog;
  readonly desk: ControlsDesk;
  /** This browser's place at the desk. */
  readonly seat: Seat;
  readonly now: () => number;
  /** Lets the browser go. */
  close(code: number, reason: string): void;
}

/** Stands in a refusal where the message was too garbled to say which request it was. */
const UNKNOWN_REQUEST = 'unknown';

type Parsed = { readonly ok: true; readonly message: ClientMessage } | { readonly ok: false; readonly request: string; readonly reason: string };

/** Checks one message from outside against the schema, before anything else looks at it. */
export function parseClientMessage(text: string): Parsed {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return { ok: false, request: UNKNOWN_REQUEST, reason: 'it is not JSON' };
  }
  const parsed = clientMessageSchema.safeParse(value);
  if (parsed.success) return { ok: true, message: parsed.data };
  const request = typeof value === 'object' && value !== null && 'request' in value && typeof value.request === 'string' ? value.request.slice(0, 40) : UNKNOWN_REQUEST;
  const first = parsed.error.issues[0];
  return { ok: false, request, reason: first ? `${first.path.join('.') || 'message'}: ${first.message}` : 'it does not fit the schema' };
}

/** Resolves with what the answer carries beside the request. */
async function carryOut(message: ClientMessage, context: RequestsContext): Promise<{ readonly flakeId?: string }> {
  context.desk.permit(context.seat, message.type);
  if (message.type !== 'nextToJudge') {
    await carryOutPlain(message, context);
    return {};
  }
  const flakeId = await context.controls.nextToJudge(message.initials);
  return flakeId === undefined ? {} : { flakeId };
}

async function carryOutPlain(message: Exclude<ClientMessage, { type: 'nextToJudge' }>, { link, controls, desk, seat }: RequestsContext): Promise<void> {
  switch (message.type) {
    case 'snapshot':
      link.sendSnapshot();
      return;
    case 'ping':
      return;
    case 'goToFlake':
      return controls.goToFlake(message.flakeId);
    case 'endLive':
      return controls.endLive();
    case 'pause':
      return controls.pause();
    case 'goOn':
      return controls.goOn();
    case 'checkAgain':
      return preflightOf(controls).checkAgain();
    case 'startNight':
      return preflightOf(controls).startNight();
    case 'stop':
      return controls.stop();
    case 'giveVerdict': {
      const { type: _, request: __, ...verdict } = message;
      return controls.giveVerdict(verdict);
    }
    case 'withdrawVerdict':
      return controls.withdrawVerdict(message.flakeId, message.terrace);
    case 'takeControls':
      return desk.take(seat, message);
    case 'giveUpControls':
      return desk.giveUp(seat);
    case 'keepControls':
      return desk.keep(seat);
  }
}

function preflightOf({ preflight }: NightControls): PreflightControls {
  if (!preflight) throw new NightjarError('noPreflight', {});
  return preflight;
}

/** What one browser asks, one message at a time; answers go back over its link. */
export class BrowserRequests {
  private bad = 0;
  private waiting = 0;
  private aboveRate = 0;
  private readonly messages = new RateMeter(MESSAGES);
  private readonly stops = new RateMeter(STOPS);
  private readonly context: RequestsContext;

  constructor(context: RequestsContext) {
    this.context = context;
  }

  /** Takes a message as it came. Never throws; resolves when it has been answered. */
  async take(text: string): Promise<void> {
    const parsed = parseClientMessage(text);
    if (!this.isWithinRate(parsed)) return;
    if (!parsed.ok) {
      this.tookBad(parsed.request, parsed.reason);
      return;
    }
    this.bad = 0;
    const { request } = parsed.message;
    // Stop is never kept waiting behind other requests.
    if (this.waiting >= MOST_WAITING && parsed.message.type !== 'stop') {
      this.refuse(request, new NightjarError('badMessage', { reason: `${MOST_WAITING} requests of this page still wait for the instrument` }));
      return;
    }
    this.waiting += 1;
    try {
      const more = await carryOut(parsed.message, this.context);
      this.context.link.answer(encode({ type: 'answer', request, ...more }));
    } catch (error) {
      this.refuse(request, error);
    } finally {
      this.waiting -= 1;
    }
  }

  private isWithinRate(parsed: Parsed): boolean {
    const isStop = parsed.ok && parsed.message.type === 'stop';
    const waitMs = (isStop ? this.stops : this.messages).take('', this.context.now());
    this.aboveRate = waitMs > 0 ? this.aboveRate + 1 : 0;
    if (waitMs === 0) return true;
    this.refuse(parsed.ok ? parsed.message.request : parsed.request, new NightjarError('tooManyMessages', { perS: isStop ? STOPS.perS : MESSAGES.perS }));
    if (this.aboveRate >= MOST_ABOVE_RATE) this.context.close(1008, 'too many messages');
    return false;
  }

  private tookBad(request: string, reason: string): void {
    this.bad += 1;
    this.refuse(request, new NightjarError('badMessage', { reason }));
    if (this.bad >= MOST_BAD_MESSAGES) this.context.close(1008, 'messages not understood');
  }

  private refuse(request: string, error: unknown): void {
    const { code, sentence } = sentenceFor(error);
    this.context.log.info({ request, code }, 'a request of the page was refused');
    this.context.link.answer(encode({ type: 'refused', request, code, sentence }));
  }
}
