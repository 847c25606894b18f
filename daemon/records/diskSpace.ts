import { statfs } from 'node:fs/promises';
import { dirname } from 'node:path';
import { diskError } from './diskErrors.ts';

/**
 * Bytes that may still be written below a folder by who runs this; for a folder that does not exist yet, of the disk it would be on.
 * Rejects with `writeFailed`.
 */
export async function diskFreeBytes(directory: string): Promise<number> {
  try {
    const { bavail, bsize } = await statfs(directory);
    return bavail * bsize;
  } catch (error) {
    const above = dirname(directory);
    if (error instanceof Error && 'code' in error && error.code === 'ENOENT' && above !== directory) return diskFreeBytes(above);
    throw diskError(error, directory);
  }
}
