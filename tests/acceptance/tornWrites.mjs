// Cuts the power in the middle of writing, over and over, and looks whether everything whose recording had returned is there, whole:
// copies of the database with their log torn, and a real process whose every step on the disk was traced (needs strace), replayed on a
// disk that promises no more than POSIX does. See tests/support/tornDisk.ts and tornWal.ts for the promises and their sources.
// node tests/acceptance/tornWrites.mjs [--cuts 2000] [--seed 1] [--tiles 150]
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { options } from './night.mjs';
import { loadBundle } from './bundle.mjs';

const { cuts, seed, tiles } = options({ cuts: 2000, seed: 1, tiles: 150 });
const top = new URL('../../', import.meta.url);

const { tearLogs, tearTrace, traceNight } = await loadBundle('tornRun', new URL('./tornRun.ts', import.meta.url));
// The disks are made up: where they are put for a look need not outlive anything, and memory is quicker.
const memory = '/dev/shm';
const folder = mkdtempSync(join(existsSync(memory) ? memory : tmpdir(), 'nightjar-torn-'));
const wrong = [];

function tell(name, outcome, beginMs) {
  console.log(`${name}: ${outcome.cuts} power cuts, ${outcome.wrong.length} wrong, in ${((performance.now() - beginMs) / 1000).toFixed(1)} s (${outcome.said})`);
  wrong.push(...outcome.wrong.map((what) => `${name}: ${what}`));
}

try {
  let begin = performance.now();
  tell('database', tearLogs(folder, Math.ceil(cuts / 2), seed), begin);
  begin = performance.now();
  const data = join(folder, 'data');
  const committer = fileURLToPath(new URL('tests/daemon/records/committer.mjs', top));
  const trace = traceNight(folder, [committer, new URL('.build/daemon/records/index.js', top).href, data, String(tiles)]);
  if (trace === undefined) console.log('whole process: left out, there is no strace here');
  else tell('whole process', await tearTrace(folder, trace, data, Math.floor(cuts / 2), seed), begin);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
for (const what of wrong.slice(0, 50)) console.log(`WRONG ${what}`);
process.exitCode = wrong.length === 0 ? 0 : 1;
