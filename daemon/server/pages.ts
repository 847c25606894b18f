import type { IncomingMessage, ServerResponse } from 'node:http';
import { NightjarError, sentenceFor } from '../errors/index.ts';
import { hostIsOurs } from './doors.ts';
import type { NightPictures } from './feed.ts';
import { nameInPath, pathInside, sendBytes, sendFile, sendSentence } from './files.ts';
import { ASK_EACH_TIME, KEEP_FOR_GOOD, KEEP_NOT_AT_ALL } from './headers.ts';
import type { ServerLog } from './log.ts';

export interface PagesContext {
  readonly uiDirectory: string;
  readonly pictures: NightPictures;
  readonly log: ServerLog;
  /** The port really bound; only known once the server listens. */
  port(): number;
}

/** Built files below this carry a hash in their name. */
const HASHED = '/assets/';
const PICTURES = '/pictures/';

/** What stands at a path; false when nothing does. */
async function sendWhatIsAt(path: string, response: ServerResponse, { pictures, uiDirectory }: PagesContext): Promise<boolean> {
  if (path === '/live') {
    const live = pictures.live();
    if (live) sendBytes(response, live.bytes, live.type, KEEP_NOT_AT_ALL);
    return live !== undefined;
  }
  if (path.startsWith(PICTURES)) {
    const name = nameInPath(path, PICTURES);
    const file = name === undefined ? undefined : pictures.file(name);
    return file !== undefined && (await sendFile(response, file, KEEP_FOR_GOOD));
  }
  const name = path === '/' ? 'index.html' : nameInPath(path, '/');
  const file = name === undefined ? undefined : pathInside(uiDirectory, name);
  return file !== undefined && (await sendFile(response, file, path.startsWith(HASHED) ? KEEP_FOR_GOOD : ASK_EACH_TIME));
}

/** Answers one request for a page or picture. Never rejects. */
export async function answerPage(request: IncomingMessage, response: ServerResponse, context: PagesContext): Promise<void> {
  const path = (request.url ?? '/').split(/[?#]/, 1)[0] ?? '/';
  if (!hostIsOurs(request, context.port())) {
    sendSentence(response, 421, sentenceFor(new NightjarError('badOrigin', { origin: String(request.headers.host) })).sentence);
    return;
  }
  if (request.method !== 'GET') {
    sendSentence(response, 405, 'Only GET is answered here.', { Allow: 'GET' });
    return;
  }
  try {
    if (await sendWhatIsAt(path, response, context)) return;
    sendSentence(response, 404, sentenceFor(new NightjarError('notFound', { path })).sentence);
  } catch (error) {
    context.log.info({ path, error: String(error) }, 'a page or picture was not sent whole');
    response.destroy();
  }
}
