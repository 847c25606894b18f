import { mkdir, open, rename, rm } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import { dirname } from 'node:path';
import { diskError } from './diskErrors.ts';
import { partEnding } from './layout.ts';

/** How bytes get into an open file; handed in so that a full disk can be rehearsed. */
export type WriteBytes = (file: FileHandle, bytes: Uint8Array) => Promise<void>;

const writeAll: WriteBytes = (file, bytes) => file.writeFile(bytes);

/**
 * The fault `fillDisk`: a disk with room for `roomBytes` more. What is beyond is refused as Linux refuses it: the part that
 * fits is written, then ENOSPC.
 */
export function fillDisk(roomBytes: number): WriteBytes {
  let left = roomBytes;
  return async (file, bytes) => {
    const fits = bytes.subarray(0, left);
    left -= fits.length;
    await file.writeFile(fits);
    if (fits.length < bytes.length) throw Object.assign(new Error('ENOSPC: no space left on device, write'), { code: 'ENOSPC' });
  };
}

/** The fault `slowDisk`: every write first waits, by whatever time the caller counts; for ever when the waiting never ends, as with a disk that hangs. */
export function slowDisk(wait: (bytes: number) => Promise<void>): WriteBytes {
  return async (file, bytes) => {
    await wait(bytes.length);
    await file.writeFile(bytes);
  };
}

async function syncFolder(path: string): Promise<void> {
  const folder = await open(path, 'r');
  try {
    await folder.sync();
  } finally {
    await folder.close();
  }
}

/** Makes the folder with all above it, and the entries of new ones durable. */
async function makeFolders(path: string): Promise<void> {
  const first = await mkdir(path, { recursive: true });
  if (first === undefined) return;
  for (let made = path; made.length >= first.length; made = dirname(made)) await syncFolder(dirname(made));
}

async function writeWhole(path: string, bytes: Uint8Array, write: WriteBytes): Promise<void> {
  const file = await open(path, 'w');
  try {
    await write(file, bytes);
    await file.sync();
  } finally {
    await file.close();
  }
}

/**
 * Writes a file so that after a power cut it is there whole or not at all: written beside its place, synced, renamed, and the folder
 * synced. Resolves when it is on the disk. Rejects with `diskFull` or `writeFailed`; then nothing of it is left.
 */
export async function writeDurably(path: string, bytes: Uint8Array, write: WriteBytes = writeAll): Promise<void> {
  const part = path + partEnding;
  try {
    await makeFolders(dirname(path));
    await writeWhole(part, bytes, write);
    await rename(part, path);
    await syncFolder(dirname(path));
  } catch (error) {
    await rm(part, { force: true }).catch(() => undefined);
    throw diskError(error, path);
  }
}
