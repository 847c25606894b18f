import type { IncomingMessage, ServerResponse } from 'node:http';
import { z } from 'zod';
import { hasCode, NightjarError, sentenceFor } from '../errors/index.ts';
import { noCookie, sessionCookie, sessionIdIn } from './cookies.ts';
import type { Door } from './door.ts';
import { originIsOurs } from './doors.ts';
import type { OwnAddress } from './doors.ts';
import { sendDone, sendSentence } from './files.ts';

/** The one path that takes anything: the token, in a POST. */
export const DOOR_PATH = '/door';
const MOST_BODY_BYTES = 1024;
/** Tells programs what is missing; no browser asks for a password because of it. */
export const ASKS_FOR_TOKEN = { 'WWW-Authenticate': 'Token realm="Nightjar"' };

const bodySchema = z.strictObject({ token: z.string().min(1).max(200) });

/** The body, or `undefined` when it is longer than a token needs. */
async function shortBody(request: IncomingMessage): Promise<string | undefined> {
  const parts: Buffer[] = [];
  let bytes = 0;
  for await (const part of request) {
    if (!Buffer.isBuffer(part)) return undefined;
    bytes += part.length;
    if (bytes > MOST_BODY_BYTES) return undefined;
    parts.push(part);
  }
  return Buffer.concat(parts).toString('utf8');
}

function tokenIn(body: string): string | undefined {
  try {
    const read = bodySchema.safeParse(JSON.parse(body));
    return read.success ? read.data.token : undefined;
  } catch {
    return undefined;
  }
}

function refuse(response: ServerResponse, status: number, error: unknown, more: Readonly<Record<string, string>> = {}): void {
  sendSentence(response, status, sentenceFor(error).sentence, more);
}

async function logIn(request: IncomingMessage, response: ServerResponse, door: Door, own: OwnAddress): Promise<void> {
  const isTls = own.scheme === 'https';
  // No other site can send this type without asking first, and it is never answered that it may.
  if (request.headers['content-type'] !== 'application/json') return sendSentence(response, 415, 'The token is sent as JSON.');
  const body = await shortBody(request);
  if (body === undefined) return sendSentence(response, 413, 'This is longer than any token.', { Connection: 'close' });
  const token = tokenIn(body);
  if (token === undefined) return refuse(response, 400, new NightjarError('badMessage', { reason: 'it is no token' }));
  try {
    const before = door.admit(sessionIdIn(request, own.port, isTls));
    const id = await door.logIn(request.socket.remoteAddress, token);
    if (before !== undefined) door.logOut(before);
    sendDone(response, { 'Set-Cookie': sessionCookie(id, own.port, isTls) });
  } catch (error) {
    if (hasCode(error, 'tooManyGuesses')) refuse(response, 429, error, { 'Retry-After': String(error.details.waitS) });
    else refuse(response, hasCode(error, 'wrongToken') ? 401 : 500, error, hasCode(error, 'wrongToken') ? ASKS_FOR_TOKEN : {});
  }
}

/** GET: 204 for who is in (or where no token is asked for), else 401. POST: gives the token. DELETE: ends the session. */
export async function answerDoor(request: IncomingMessage, response: ServerResponse, door: Door | undefined, own: OwnAddress): Promise<void> {
  const isTls = own.scheme === 'https';
  const session = door?.admit(sessionIdIn(request, own.port, isTls));
  if (request.method === 'GET') {
    if (!door || session !== undefined) sendDone(response);
    else refuse(response, 401, new NightjarError('notLetIn', {}), ASKS_FOR_TOKEN);
    return;
  }
  if (request.method !== 'POST' && request.method !== 'DELETE') return sendSentence(response, 405, 'Only GET, POST and DELETE are answered here.', { Allow: 'GET, POST, DELETE' });
  if (!originIsOurs(request, own)) return refuse(response, 403, new NightjarError('badOrigin', { origin: String(request.headers.origin) }));
  if (!door) return sendSentence(response, 404, 'No token is asked for here.');
  if (request.method === 'POST') return logIn(request, response, door, own);
  if (session !== undefined) door.logOut(session);
  sendDone(response, { 'Set-Cookie': noCookie(own.port, isTls) });
}
