import type { Clock } from '../../drivers/interfaces/index.ts';
import type { WebhookSettings } from '../config/people.ts';
import { oneLine } from '../markup.ts';
import { signatureHeaders } from './signature.ts';
import { withTimeLimit } from './timeLimit.ts';
import type { Attempt, Channel } from './types.ts';
import { webhookBody } from './webhookBody.ts';

/** A server that takes longer is taken for dead. */
const timeLimitMs = 10_000;

/** Answers of a server that says "not now": request timeout, too early, too many requests (RFC 9110, RFC 8470, RFC 6585). */
const notNow: ReadonlySet<number> = new Set([408, 425, 429]);

/** POSTs JSON to one address. Redirects are not followed: the message, and its signature, go nowhere but where the file says. */
export function webhookChannel({ name, url, about }: WebhookSettings, secret: string | undefined, clock: Clock): Channel {
  return {
    name: `webhook ${oneLine(name)}`,
    about: new Set([...about, 'test' as const]),
    send: (tidings, signal) =>
      withTimeLimit(clock, timeLimitMs, signal, async (limited, timedOut) => {
        const body = webhookBody(tidings);
        const headers = { 'Content-Type': 'application/json', 'User-Agent': 'nightjar', ...(secret === undefined ? {} : signatureHeaders(secret, body, clock.now())) };
        try {
          const response = await fetch(url, { method: 'POST', body, headers, redirect: 'manual', signal: limited });
          // What it says beside its status is of no use, and may be without end.
          await response.body?.cancel();
          return attemptOf(response);
        } catch (error) {
          return { ok: false, again: true, reason: timedOut() ? `no answer within ${timeLimitMs / 1000} s` : reasonOf(error) };
        }
      }),
  };
}

function attemptOf({ ok, status }: Response): Attempt {
  if (ok) return { ok: true, answer: `HTTP ${status}` };
  if (status >= 300 && status < 400) return { ok: false, again: false, reason: `HTTP ${status}: it sends on to another address, which is not followed` };
  return { ok: false, again: status >= 500 || notNow.has(status), reason: `HTTP ${status}` };
}

/** What fetch throws is "fetch failed"; the cause says more. The address is not in it. */
function reasonOf(error: unknown): string {
  const cause = error instanceof Error && error.cause instanceof Error ? error.cause : error;
  const code = cause instanceof Error && 'code' in cause ? String(cause.code) : '';
  const text = cause instanceof Error ? cause.message : String(cause);
  return oneLine(code === '' || text.includes(code) ? text : `${code} ${text}`);
}
