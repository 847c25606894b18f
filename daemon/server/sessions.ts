import { createHash } from 'node:crypto';
import type { Secrets } from './secrets.ts';

const ID_BYTES = 32;
/** A session that nobody uses ends after a day, and any after a week: a night and its morning need no second token. */
export const SESSION_BOUNDS = { most: 64, unusedMs: 24 * 3_600_000, longestMs: 7 * 24 * 3_600_000 } as const;

interface Session {
  readonly openedMs: number;
  usedMs: number;
}

/** What a session is known by inside the daemon: the digest of its id, so that neither the log nor a look into memory gives one away. */
export type SessionKey = string & { readonly session: true };

function keyOf(id: string): SessionKey {
  return createHash('sha256').update(id).digest('base64url') as SessionKey;
}

/**
 * Browsers that gave the token. Kept in memory only: a daemon that is started again lets in nobody whom it has not asked. When there
 * are too many, the one unused for longest ends. Ids are looked up by their digest, so the time it takes tells nothing of them.
 */
export class Sessions {
  private readonly sessions = new Map<SessionKey, Session>();
  private readonly secrets: Secrets;

  constructor(secrets: Secrets) {
    this.secrets = secrets;
  }

  get size(): number {
    return this.sessions.size;
  }

  /** Opens a session; returns its id, for the cookie. Never one that a browser brought along. */
  open(nowMs: number): string {
    this.dropEnded(nowMs);
    const [oldest] = [...this.sessions].sort(([, a], [, b]) => a.usedMs - b.usedMs);
    if (oldest && this.sessions.size >= SESSION_BOUNDS.most) this.sessions.delete(oldest[0]);
    const id = this.secrets.bytes(ID_BYTES).toString('base64url');
    this.sessions.set(keyOf(id), { openedMs: nowMs, usedMs: nowMs });
    return id;
  }

  /** The key of an open session, which thereby counts as used; `undefined` for any other id. */
  find(id: string, nowMs: number): SessionKey | undefined {
    const key = keyOf(id);
    return this.use(key, nowMs) ? key : undefined;
  }

  /** Whether the session is still open; it counts as used. */
  use(key: SessionKey, nowMs: number): boolean {
    this.dropEnded(nowMs);
    const session = this.sessions.get(key);
    if (session) session.usedMs = nowMs;
    return session !== undefined;
  }

  end(key: SessionKey): void {
    this.sessions.delete(key);
  }

  endAll(): void {
    this.sessions.clear();
  }

  private dropEnded(nowMs: number): void {
    for (const [key, { openedMs, usedMs }] of this.sessions) {
      if (nowMs - usedMs >= SESSION_BOUNDS.unusedMs || nowMs - openedMs >= SESSION_BOUNDS.longestMs) this.sessions.delete(key);
    }
  }
}
