import { hasCode, NightjarError } from '../errors/index.ts';
import { isOwnComputer, meteredAs } from './addresses.ts';
import type { ServerLog } from './log.ts';
import { RateMeter } from './rates.ts';
import type { Secrets } from './secrets.ts';
import { Sessions } from './sessions.ts';
import type { SessionKey } from './sessions.ts';
import { isToken } from './token.ts';
import type { TokenRecord } from './token.ts';

/** Guesses of one address: five, then one in ten seconds. */
const GUESSES_OF_ONE = { burst: 5, perS: 0.1 };
/** Guesses of all strange addresses together. */
const GUESSES_OF_ALL = { burst: 20, perS: 0.5 };
/** Guesses that wait while one is looked at; each costs 32 MiB for a tenth of a second, so they are looked at one by one. */
const MOST_WAITING = 4;
const MOST_FRIENDS = 256;

export interface DoorParts {
  readonly secrets: Secrets;
  readonly log: ServerLog;
  readonly now: () => number;
  /** What is kept of the token; rejects when there is none to be had. */
  readToken(): Promise<TokenRecord | undefined>;
}

/**
 * Lets in who gives the token, and knows them again by their session. Guessing is slowed by address and by all addresses together;
 * an address that once gave the right token is not slowed by what others do, so that nobody is locked out for ever.
 */
export class Door {
  private readonly sessions: Sessions;
  private readonly ofOne = new RateMeter(GUESSES_OF_ONE);
  private readonly ofAll = new RateMeter(GUESSES_OF_ALL);
  private readonly friends = new Set<string>();
  private token: TokenRecord | undefined;
  private waiting = 0;
  private queue: Promise<unknown> = Promise.resolve();
  private readonly parts: DoorParts;

  constructor(parts: DoorParts) {
    this.parts = parts;
    this.sessions = new Sessions(parts.secrets);
  }

  /** Reads the token anew: with another one, or none, all sessions end. */
  async refresh(): Promise<void> {
    const token = await this.parts.readToken().catch((error: unknown) => {
      if (this.token) this.parts.log.warn({ error: hasCode(error, 'badTokenFile') ? error.details.reason : 'unknown' }, 'the token cannot be read: nobody is let in');
      return undefined;
    });
    if (this.token && token?.hash !== this.token.hash) {
      this.sessions.endAll();
      this.friends.clear();
      this.parts.log.info({}, 'the token was changed: all sessions have ended');
    }
    this.token = token;
  }

  /** The session of a browser that was let in; `undefined` for anybody else. */
  admit(sessionId: string | undefined): SessionKey | undefined {
    return sessionId === undefined ? undefined : this.sessions.find(sessionId, this.parts.now());
  }

  /** Whether a session that was let in still is. */
  isIn(session: SessionKey): boolean {
    return this.sessions.use(session, this.parts.now());
  }

  /** Gives a new session's id for the right token. Rejects with `wrongToken` or `tooManyGuesses`. */
  async logIn(address: string | undefined, typed: string): Promise<string> {
    this.meter(address);
    if (this.waiting >= MOST_WAITING) throw new NightjarError('tooManyGuesses', { waitS: 1 });
    const isRight = await this.inTurn(typed);
    if (!isRight) {
      this.parts.log.warn({ address: address ?? 'unknown' }, 'a wrong token was given');
      throw new NightjarError('wrongToken', {});
    }
    if (this.friends.size < MOST_FRIENDS) this.friends.add(meteredAs(address));
    this.parts.log.info({ address: address ?? 'unknown' }, 'a browser was let in');
    return this.sessions.open(this.parts.now());
  }

  logOut(session: SessionKey): void {
    this.sessions.end(session);
  }

  private meter(address: string | undefined): void {
    const key = meteredAs(address);
    const nowMs = this.parts.now();
    const isKnown = isOwnComputer(address) || this.friends.has(key);
    const waitMs = this.ofOne.take(key, nowMs) || (isKnown ? 0 : this.ofAll.take('', nowMs));
    if (waitMs > 0) throw new NightjarError('tooManyGuesses', { waitS: Math.ceil(waitMs / 1000) });
  }

  private async inTurn(typed: string): Promise<boolean> {
    this.waiting += 1;
    const before = this.queue;
    const look = before.then(async () => {
      // What holds is the token as it is now, also when a new one was made while this guess waited.
      await this.refresh();
      return this.token !== undefined && (await isToken(typed, this.token));
    });
    this.queue = look.catch(() => undefined);
    try {
      return await look;
    } finally {
      this.waiting -= 1;
    }
  }
}
