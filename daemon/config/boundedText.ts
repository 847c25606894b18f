import { createReadStream } from 'node:fs';
import { NightjarError } from '../errors/index.ts';

/**
 * The text of a file, or `undefined` when it is larger than may be: no more than that is ever read, whatever the file says of its size (a device
 * and a pipe say 0). Throws `noSuchFile` or `unreadableFile`.
 */
export async function boundedText(file: string, mostBytes: number): Promise<string | undefined> {
  const chunks: Buffer[] = [];
  let bytes = 0;
  try {
    for await (const chunk of createReadStream(file)) {
      bytes += (chunk as Buffer).length;
      if (bytes > mostBytes) return undefined;
      chunks.push(chunk as Buffer);
    }
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    if (code === 'ENOENT' || code === 'ENOTDIR') throw new NightjarError('noSuchFile', { file }, { cause: error });
    throw new NightjarError('unreadableFile', { file, reason: error instanceof Error ? error.message : String(error) }, { cause: error });
  }
  return Buffer.concat(chunks).toString('utf8');
}
