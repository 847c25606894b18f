import { dirname } from 'node:path';
import { diskError } from './diskErrors.ts';
import { systemFiles, type DurableFiles, type OpenFile } from './durableFiles.ts';
import { partEnding } from './layout.ts';

/** How bytes get into an open file; handed in so that a full disk can be rehearsed. */
export type WriteBytes = (file: OpenFile, bytes: Uint8Array) => Promise<void>;

/** Writes a file whole or not at all. */
export type WriteDurably = (path: string, bytes: Uint8Array, write?: WriteBytes) => Promise<void>;

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

/**
 * Makes folders whose entries are durable when the promise resolves. Several files at a time may want the same new folder: all of them
 * wait until it is synced, not only the one that made it. Held are those that are being made, which the writers under way bound.
 */
class DurableFolders {
  private readonly making = new Map<string, Promise<void>>();
  private readonly files: DurableFiles;

  constructor(files: DurableFiles) {
    this.files = files;
  }

  async make(path: string): Promise<void> {
    const underWay = this.making.get(path);
    if (underWay) return underWay;
    const made = this.makeWithAbove(path).finally(() => this.making.delete(path));
    this.making.set(path, made);
    return made;
  }

  async sync(path: string): Promise<void> {
    const folder = await this.files.open(path, 'r');
    try {
      await folder.sync();
    } finally {
      await folder.close();
    }
  }

  /** A folder that is there and not being made is durable, with all above it: each is made after the one above. */
  private async makeWithAbove(path: string): Promise<void> {
    if (await this.files.exists(path)) return;
    const above = dirname(path);
    if (above !== path) await this.make(above);
    await this.files.makeFolder(path);
    await this.sync(above);
  }
}

async function writeWhole(files: DurableFiles, path: string, bytes: Uint8Array, write: WriteBytes): Promise<void> {
  const file = await files.open(path, 'w');
  try {
    await write(file, bytes);
    await file.sync();
  } finally {
    await file.close();
  }
}

/** Writing durably on a disk. */
export function durableWriter(files: DurableFiles): WriteDurably {
  const folders = new DurableFolders(files);
  return async (path, bytes, write = writeAll) => {
    const part = path + partEnding;
    try {
      await folders.make(dirname(path));
      await writeWhole(files, part, bytes, write);
      await files.rename(part, path);
      await folders.sync(dirname(path));
    } catch (error) {
      await files.remove(part).catch(() => undefined);
      throw diskError(error, path);
    }
  };
}

/**
 * Writes a file so that after a power cut it is there whole or not at all: written beside its place, synced, renamed, and the folder
 * synced. Resolves when it is on the disk. Rejects with `diskFull` or `writeFailed`; then nothing of it is left.
 */
export const writeDurably: WriteDurably = durableWriter(systemFiles);
