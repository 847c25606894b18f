import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { NightjarError } from '../errors/index.ts';
import { absoluteFile } from './layout.ts';
import type { StoredFile } from './types.ts';

export function sha256(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex');
}

/**
 * Size and SHA-256 of a file that a record is about to name, read back from the disk: a record never names what is not there.
 * Throws `writeFailed`.
 */
export function fingerprint(directory: string, file: string): StoredFile {
  const path = absoluteFile(directory, file);
  if (path === undefined) throw new NightjarError('writeFailed', { file, reason: 'its name leads out of the data folder' });
  try {
    const bytes = readFileSync(path);
    return { file, bytes: bytes.length, sha256: sha256(bytes) };
  } catch (error) {
    throw new NightjarError('writeFailed', { file, reason: 'a record names it, but it is not on the disk' }, { cause: error });
  }
}
