import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { builtFile } from '../../../daemon/builtFile.ts';
import { openRecords, verifyRecords } from '../../../daemon/records/index.ts';
import { codeOf, folders } from './samples.ts';

// Real processes on a machine that may be shared.
vi.setConfig({ testTimeout: 180_000 });

const { make, clear } = folders();
afterEach(clear);

const committer = fileURLToPath(new URL('./committer.mjs', import.meta.url));
const built = pathToFileURL(builtFile('daemon/records/index.js')).href;

/** Lets a process record tiles and kills it after it has said `tiles` of them; gives the last tile it said. */
async function recordUntilKilled(directory: string, tiles: number, meanwhile: () => void = () => undefined): Promise<number> {
  const child = spawn(process.execPath, [committer, built, directory], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(child, 'exit');
  let said = 0;
  let last = -1;
  for await (const line of createInterface({ input: child.stdout })) {
    last = Number(line);
    said++;
    if (said === 1) meanwhile();
    if (said === tiles) child.kill('SIGKILL');
  }
  const [, signal] = await ended;
  expect(signal).toBe('SIGKILL');
  return last;
}

describe('a process that is killed while it records', () => {
  it('leaves whole transactions: nothing it said it had recorded is lost, nothing is there by halves or twice', async () => {
    const directory = make();
    for (const tiles of [1, 7, 2, 13]) {
      const last = await recordUntilKilled(directory, tiles);
      const records = openRecords(directory);
      const recorded = records.tiles('killed');
      const flakes = records.flakes('killed');
      const report = await verifyRecords(records);
      records.close();
      expect(recorded.map((tile) => tile.tile)).toEqual(recorded.map((_, n) => n));
      expect(recorded.length).toBeGreaterThan(last);
      const newest = recorded.length - 1;
      expect(flakes.map((flake) => flake.bestTile)).toEqual(recorded.map((_, n) => Math.min(n + 1, newest)));
      expect(report).toMatchObject({ sound: true, problems: [], filesChecked: 2 * recorded.length });
      // At most the pictures of the one tile that was under way.
      expect(report.leftovers.length + report.orphans.length).toBeLessThanOrEqual(2);
    }
  });

  it('keeps all others out while it lives, and nobody after that', async () => {
    const directory = make();
    const seen: string[] = [];
    await recordUntilKilled(directory, 3, () => seen.push(codeOf(() => openRecords(directory).close())));
    seen.push(codeOf(() => openRecords(directory).close()));
    expect(seen).toEqual(['inUse', 'nothing']);
  });
});
