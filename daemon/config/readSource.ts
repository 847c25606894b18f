import { readFile, stat } from 'node:fs/promises';
import { NightjarError } from '../errors/index.ts';
import { withFiles } from './filesInPlace.ts';
import type { SourceText } from './sourceText.ts';
import { maxFileBytes } from './yamlSource.ts';

/**
 * The text of a configuration file, with the files that it names put in their places. Throws `noSuchFile`, `unreadableFile`, or `badConfig` when it is larger than configuration can
 * be: its size is looked at before anything is read.
 */
export async function readSource(file: string): Promise<SourceText> {
  let text: string | undefined;
  try {
    const { size } = await stat(file);
    if (size <= maxFileBytes) text = await readFile(file, 'utf8');
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : undefined;
    if (code === 'ENOENT' || code === 'ENOTDIR') throw new NightjarError('noSuchFile', { file }, { cause: error });
    throw new NightjarError('unreadableFile', { file, reason: error instanceof Error ? error.message : String(error) }, { cause: error });
  }
  if (text !== undefined) return withFiles({ file, text });
  throw new NightjarError('badConfig', { file, problems: [{ line: 1, key: '', message: `the file is larger than ${maxFileBytes} bytes, which is the most` }] });
}
