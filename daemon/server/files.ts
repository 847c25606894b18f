import { constants } from 'node:fs';
import { open, realpath } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import type { ServerResponse } from 'node:http';
import { extname, resolve, sep } from 'node:path';
import { pipeline } from 'node:stream/promises';

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

/**
 * Opens a file that really lies in `directory`, links followed: a link inside that leads out is as good as no file. A pipe or device
 * is not waited for. `undefined` when there is no such file.
 */
async function openInside(directory: string, path: string): Promise<FileHandle | undefined> {
  try {
    const [root, real] = await Promise.all([realpath(directory), realpath(path)]);
    if (!real.startsWith(root + sep)) return undefined;
    return await open(real, constants.O_RDONLY | constants.O_NOFOLLOW | constants.O_NONBLOCK);
  } catch {
    return undefined;
  }
}

/**
 * Sends a file of `directory` as it is on disk; false, with nothing sent, when there is no such file in it. Rejects when the browser
 * goes away half-way.
 */
export async function sendFile(response: ServerResponse, directory: string, path: string, cacheControl: string, status = 200): Promise<boolean> {
  const file = await openInside(directory, path);
  if (!file) return false;
  try {
    const found = await file.stat();
    if (!found.isFile()) return false;
    const type = TYPES[extname(path).toLowerCase()] ?? 'application/octet-stream';
    response.writeHead(status, { 'Content-Type': type, 'Content-Length': found.size, 'Cache-Control': cacheControl });
    await pipeline(file.createReadStream({ autoClose: false }), response);
    return true;
  } finally {
    await file.close();
  }
}

/** Sends bytes that are in memory. */
export function sendBytes(response: ServerResponse, bytes: Uint8Array, type: string, cacheControl: string): void {
  response.writeHead(200, { 'Content-Type': type, 'Content-Length': bytes.byteLength, 'Cache-Control': cacheControl });
  response.end(bytes);
}

/** Sends a sentence for a person, as plain text: whatever stands in it, no browser takes it for a page. */
export function sendSentence(response: ServerResponse, status: number, sentence: string, more: Readonly<Record<string, string>> = {}): void {
  response.writeHead(status, { 'Content-Type': 'text/plain; charset=utf-8', 'Cache-Control': 'no-store', ...more });
  response.end(`${sentence}\n`);
}

/** Sends that it was done, and nothing else. */
export function sendDone(response: ServerResponse, more: Readonly<Record<string, string>> = {}): void {
  response.writeHead(204, { 'Cache-Control': 'no-store', ...more });
  response.end();
}
