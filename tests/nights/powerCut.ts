import { appendFileSync, existsSync, readdirSync, rmSync, statSync, truncateSync } from 'node:fs';
import { join } from 'node:path';
import { openRecords } from '../../daemon/records/index.ts';
import type { Random } from '../../simulators/random.ts';

/** Every picture on the disk, relative to the folder. */
function pictures(folder: string): readonly string[] {
  if (!existsSync(join(folder, 'runs'))) return [];
  const all = readdirSync(join(folder, 'runs'), { recursive: true, encoding: 'utf8' }).map((file) => `runs/${file}`);
  return all.filter((file) => statSync(join(folder, file)).isFile()).sort();
}

/** Files that no record names: nothing has been promised of them yet. Opening the records is their recovery from the torn log. */
function unnamed(folder: string): readonly string[] {
  const records = openRecords(folder);
  try {
    const named = new Set(records.runIds().flatMap((id) => records.storedFiles(id).map(({ file }) => file)));
    return pictures(folder).filter((file) => !named.has(file));
  } finally {
    records.close();
  }
}

/**
 * What a power cut does beyond ending the process: what was not yet synced may be gone or cut short, and the tail of the write-ahead log
 * may hold part of a transaction that was never committed. What the records name was synced before, and stays.
 */
export function cutPower(folder: string, random: Random): void {
  const log = join(folder, 'nightjar.sqlite-wal');
  const torn = Uint8Array.from({ length: 24 + random.below(4000) }, () => random.below(256));
  if (existsSync(log)) appendFileSync(log, torn);
  for (const file of unnamed(folder)) {
    const path = join(folder, file);
    if (random.below(2) === 0) rmSync(path);
    else truncateSync(path, random.below(statSync(path).size + 1));
  }
}
