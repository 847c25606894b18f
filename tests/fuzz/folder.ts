import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A folder of its own for one input, gone afterwards. */
export async function inFolder<T>(work: (folder: string) => T | Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-fuzz-'));
  try {
    return await work(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Every file below a folder with its content: two of these are equal when nothing was written, moved or deleted. */
export function contentOf(folder: string): string {
  const names = readdirSync(folder, { recursive: true }).map(String).sort();
  return names.map((name) => `${name} ${statSync(join(folder, name)).isFile() ? readFileSync(join(folder, name)).toString('base64') : 'folder'}`).join('\n');
}
