import { NightjarError } from '../errors/index.ts';
import { boundedText } from './boundedText.ts';
import { withFiles } from './filesInPlace.ts';
import type { SourceText } from './sourceText.ts';
import { maxFileBytes } from './yamlSource.ts';

/**
 * The text of a configuration file, with the files that it names put in their places. Throws `noSuchFile`, `unreadableFile`, or `badConfig` when it is larger than configuration can
 * be: it is not read further than that.
 */
export async function readSource(file: string): Promise<SourceText> {
  const text = await boundedText(file, maxFileBytes);
  if (text !== undefined) return withFiles({ file, text });
  throw new NightjarError('badConfig', { file, problems: [{ line: 1, key: '', message: `the file is larger than ${maxFileBytes} bytes, which is the most` }] });
}
