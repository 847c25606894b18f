import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import type { ServerResponse } from 'node:http';
import { extname, resolve, sep } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { SECURITY_HEADERS } from './headers.ts';

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webp': 'image/webp',
  '.jpg': 'image/jpeg',
  '.woff2': 'font/woff2',
  '.json': 'application/json',
};

/**
 * The name that a request's path asks for below `prefix`, decoded once; `undefined` when it cannot be decoded, holds a control
 * character or a backslash, or has a part that is empty or begins with a dot. So it can neither climb nor reach hidden files.
 */
export function nameInPath(path: string, prefix: string): string | undefined {
  if (!path.startsWith(prefix)) return undefined;
  let name: string;
  try {
    name = decodeURIComponent(path.slice(prefix.length));
  } catch {
    return undefined;
  }
  const plain = [...name].every((c) => c >= ' ' && c !== '\u007f' && c !== '\\' && c !== ':');
  const climbs = name.split('/').some((part) => part === '' || part.startsWith('.'));
  return plain && !climbs ? name : undefined;
}

/** Absolute path of `name` in `directory`; `undefined` when it would lie outside, however it got there. */
export function pathInside(directory: string, name: string): string | undefined {
  const root = resolve(directory);
  const path = resolve(root, name);
  return path.startsWith(root + sep) ? path : undefined;
}

/** Sends a file as it is on disk; false, with nothing sent, when there is no such file. Rejects when the browser goes away half-way. */
export async function sendFile(response: ServerResponse, path: string, cacheControl: string): Promise<boolean> {
  const found = await stat(path).catch(() => undefined);
  if (!found?.isFile()) return false;
  const type = TYPES[extname(path).toLowerCase()] ?? 'application/octet-stream';
  response.writeHead(200, { ...SECURITY_HEADERS, 'Content-Type': type, 'Content-Length': found.size, 'Cache-Control': cacheControl });
  await pipeline(createReadStream(path), response);
  return true;
}

/** Sends bytes that are in memory. */
export function sendBytes(response: ServerResponse, bytes: Uint8Array, type: string, cacheControl: string): void {
  response.writeHead(200, { ...SECURITY_HEADERS, 'Content-Type': type, 'Content-Length': bytes.byteLength, 'Cache-Control': cacheControl });
  response.end(bytes);
}

/** Sends a sentence for a person, as plain text. */
export function sendSentence(response: ServerResponse, status: number, sentence: string, more: Readonly<Record<string, string>> = {}): void {
  response.writeHead(status, { ...SECURITY_HEADERS, 'Content-Type': 'text/plain; charset=utf-8', 'Cache-Control': 'no-store', ...more });
  response.end(`${sentence}\n`);
}
