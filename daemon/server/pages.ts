import type { IncomingMessage, ServerResponse } from 'node:http';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import { sessionIdIn } from './cookies.ts';
import type { Door } from './door.ts';
import { answerDoor, ASKS_FOR_TOKEN, DOOR_PATH } from './doorRequests.ts';
import { hostIsOurs } from './doors.ts';
import type { OwnAddress } from './doors.ts';
import type { NightPictures } from './feed.ts';
import { nameInPath, pathInside, sendBytes, sendFile, sendSentence } from './files.ts';
import { ASK_EACH_TIME, KEEP_FOR_GOOD, KEEP_NOT_AT_ALL, secure } from './headers.ts';
import type { ServerLog } from './log.ts';
import type { Patience } from './patience.ts';

export interface PagesContext {
  readonly uiDirectory: string;
  readonly pictures: NightPictures;
  readonly log: ServerLog;
  readonly patience: Patience;
  /** Left out where whoever reaches the page may see it: on this computer. */
  readonly door?: Door;
  /** Its port is only known once the server listens. */
  readonly own: () => OwnAddress;
}

/** Built files below this carry a hash in their name. They are the page's program, which is no secret: the door page needs some of them. */
const HASHED = '/assets/';
const PICTURES = '/pictures/';
const FIRST_PAGES: readonly string[] = ['/', '/index.html'];

/** What stands at a path; false when nothing does. */
async function sendWhatIsAt(path: string, response: ServerResponse, { pictures, uiDirectory, door }: PagesContext): Promise<boolean> {
  if (path === '/live') {
    const live = pictures.live();
    if (live) sendBytes(response, live.bytes, live.type, KEEP_NOT_AT_ALL);
    return live !== undefined;
  }
  if (path.startsWith(PICTURES)) {
    const name = nameInPath(path, PICTURES);
    const file = name === undefined ? undefined : pictures.file(name);
    // Behind a door a picture is not left lying in the browser for whoever sits there next.
    return file !== undefined && (await sendFile(response, pictures.directory, file, door ? KEEP_NOT_AT_ALL : KEEP_FOR_GOOD));
  }
  const name = path === '/' ? 'index.html' : nameInPath(path, '/');
  const file = name === undefined ? undefined : pathInside(uiDirectory, name);
  return file !== undefined && (await sendFile(response, uiDirectory, file, path.startsWith(HASHED) ? KEEP_FOR_GOOD : ASK_EACH_TIME));
}

/** Whoever was not let in gets the door's page in place of the first one, and nothing of the night. */
async function keepOut(path: string, response: ServerResponse, { uiDirectory }: PagesContext): Promise<void> {
  for (const [name, value] of Object.entries(ASKS_FOR_TOKEN)) response.setHeader(name, value);
  const page = FIRST_PAGES.includes(path) ? pathInside(uiDirectory, 'door.html') : undefined;
  if (page !== undefined && (await sendFile(response, uiDirectory, page, KEEP_NOT_AT_ALL, 401))) return;
  sendSentence(response, 401, sentenceFor(new NightjarError('notLetIn', {})).sentence);
}

async function answer(path: string, request: IncomingMessage, response: ServerResponse, context: PagesContext): Promise<void> {
  const { door, log, patience } = context;
  const own = context.own();
  const isIn = !door || door.admit(sessionIdIn(request, own.port, own.scheme === 'https')) !== undefined;
  const waitS = await patience.wait(request.socket.remoteAddress, isIn);
  if (waitS > 0) {
    log.info({ address: request.socket.remoteAddress ?? 'unknown' }, 'an address asks for more than it is given');
    return sendSentence(response, 429, sentenceFor(new NightjarError('tooManyRequests', { waitS })).sentence, { 'Retry-After': String(waitS), Connection: 'close' });
  }
  if (path === DOOR_PATH) return answerDoor(request, response, door, own);
  if (request.method !== 'GET') return sendSentence(response, 405, 'Only GET is answered here.', { Allow: 'GET' });
  if (!isIn && !path.startsWith(HASHED)) return keepOut(path, response, context);
  if (await sendWhatIsAt(path, response, context)) return;
  sendSentence(response, 404, sentenceFor(new NightjarError('notFound', { path })).sentence);
}

/** Answers one request for a page or picture. Never rejects. What follows a `?` is never looked at and never logged. */
export async function answerPage(request: IncomingMessage, response: ServerResponse, context: PagesContext): Promise<void> {
  const path = (request.url ?? '/').split(/[?#]/, 1)[0] ?? '/';
  const own = context.own();
  secure(response, own.scheme === 'https');
  if (!hostIsOurs(request, own)) {
    sendSentence(response, 421, sentenceFor(new NightjarError('badOrigin', { origin: String(request.headers.host) })).sentence);
    return;
  }
  try {
    await answer(path, request, response, context);
  } catch (error) {
    context.log.info({ path, error: String(error) }, 'a page or picture was not sent whole');
    response.destroy();
  }
}
