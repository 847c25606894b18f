import { readdir, readFile } from 'node:fs/promises';
import { join, relative, sep } from 'node:path';
import sharp from 'sharp';
import { sha256 } from '../fingerprint.ts';
import { absoluteFile } from '../layout.ts';
import type { StoredFile } from '../types.ts';
import type { Examination } from './examination.ts';
import type { Problem } from './problem.ts';

function codeOf(error: unknown): unknown {
  return error instanceof Error && 'code' in error ? error.code : undefined;
}

async function contentOf(directory: string, { file }: StoredFile): Promise<Uint8Array | Problem> {
  const path = absoluteFile(directory, file);
  if (path === undefined) return { kind: 'fileMissing', where: file, what: 'its name leads out of the data folder' };
  try {
    return await readFile(path);
  } catch (error) {
    const what = codeOf(error) === 'ENOENT' ? 'a record names it, but it is not on the disk' : `it cannot be read: ${error instanceof Error ? error.message : String(error)}`;
    return { kind: 'fileMissing', where: file, what };
  }
}

/** Decodes every pixel. A picture of another size than its record says is no less wrong than one that cannot be decoded. */
async function pictureProblem(bytes: Uint8Array, where: string, sizes: Examination['sizes']): Promise<Problem | undefined> {
  try {
    const { info } = await sharp(bytes, { failOn: 'warning' }).raw().toBuffer({ resolveWithObject: true });
    const wanted = sizes.get(where);
    const fits = wanted === undefined || (wanted.widthPx === info.width && wanted.heightPx === info.height);
    return fits ? undefined : { kind: 'notAPicture', where, what: `it has ${info.width} x ${info.height} pixels, and ${wanted.widthPx} x ${wanted.heightPx} were recorded` };
  } catch (error) {
    return { kind: 'notAPicture', where, what: error instanceof Error ? error.message : String(error) };
  }
}

/** Compares one file with its record, byte for byte by its hash; `deep` decodes it too. */
async function fileProblem(directory: string, file: StoredFile, sizes: Examination['sizes'], deep: boolean): Promise<Problem | undefined> {
  const content = await contentOf(directory, file);
  if ('kind' in content) return content;
  if (content.length !== file.bytes) return { kind: 'fileChanged', where: file.file, what: `it has ${content.length} bytes, and ${file.bytes} were recorded` };
  if (sha256(content) !== file.sha256) return { kind: 'fileChanged', where: file.file, what: 'its SHA-256 is not the one that was recorded' };
  return deep ? pictureProblem(content, file.file, sizes) : undefined;
}

/** Every file against its record. One at a time is in memory. */
export async function fileProblems(directory: string, { files, sizes }: Examination, deep: boolean): Promise<Problem[]> {
  const found: Problem[] = [];
  for (const file of files) {
    const problem = await fileProblem(directory, file, sizes, deep);
    if (problem) found.push(problem);
  }
  return found;
}

/** All files below `runs`, relative to the data folder, sorted; none when there is no such folder. */
export async function filesOnDisk(directory: string): Promise<string[]> {
  const entries = await readdir(join(directory, 'runs'), { recursive: true, withFileTypes: true }).catch(() => []);
  return entries
    .filter((entry) => !entry.isDirectory())
    .map((entry) => relative(directory, join(entry.parentPath, entry.name)).split(sep).join('/'))
    .sort();
}
