// Whole nights in virtual time on a simulated microscope, each with the faults that its seed draws, and after each the run's promises: every tile
// recorded once or skipped by name, no flake lost or doubled, no forbidden move, safe at the end, records whole, nothing silent, never hung.
// usage: npm run nights -- --seeds COUNT [--from SEED] [--every N] [--only SEED] [--processes 2] [--events]
// A seed that fails prints itself, what was done to it and what it broke; `--only SEED` plays it again, exactly. Ends with 1 when any failed.
import { fork } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { makeBundle, openBundle } from './bundle.mjs';

/** Nights take seconds; one that says nothing for so long hangs in real time, too. */
const MOST_REAL_MS = 600_000;
const usage = 'usage: npm run nights -- --seeds COUNT [--from SEED] [--every N] [--only SEED] [--processes 2] [--events]';

const argument = (name, otherwise) => (process.argv.includes(name) ? Number(process.argv[process.argv.indexOf(name) + 1]) : otherwise);
const withEvents = process.argv.includes('--events');

/** Plays seeds as they come, one after the other. */
async function beChild() {
  const { reportOf } = await openBundle('nights');
  const developers = readFileSync(new URL('../../DEVELOPERS.md', import.meta.url), 'utf8');
  let unforeseen = [];
  process.on('unhandledRejection', (error) => unforeseen.push(`nobody caught ${error?.stack ?? error}`));
  process.on('message', async (seed) => {
    unforeseen = [];
    const begin = performance.now();
    const report = await reportOf(seed, developers).catch((error) => ({ seed, strikes: [], attempts: [], problems: [`it could not be played: ${error?.stack ?? error}`] }));
    process.send({ ...report, problems: [...report.problems, ...unforeseen], realMs: performance.now() - begin });
  });
  process.send('ready');
}

function blockOf({ seed, variation, strikes, attempts, fingerprint, problems }) {
  const lines = [problems.length > 0 ? `FAILED seed ${seed} (variation ${variation}); again: npm run nights -- --only ${seed}` : `seed ${seed} (variation ${variation}), fingerprint ${fingerprint}`];
  lines.push(...strikes.map((strike) => `  done to it: ${JSON.stringify(strike)}`));
  for (const [n, { end, cause, lastedS, struck, events }] of attempts.entries()) {
    lines.push(`  attempt ${n + 1}: ${end} (${cause}) after ${lastedS.toFixed(0)} s; struck: ${JSON.stringify(struck)}`);
    if (withEvents) lines.push(...events.map(({ atMs, kind, text }) => `    ${new Date(atMs).toISOString().slice(11, 23)} ${kind}: ${text}`));
  }
  return [...lines, ...problems.map((what) => `  BROKEN: ${what}`)].join('\n');
}

const children = new Set();

/** Whoever breaks it off leaves nothing behind. */
function endWith(folder) {
  for (const signal of ['SIGINT', 'SIGTERM']) {
    process.once(signal, () => {
      for (const child of children) child.removeAllListeners('exit').kill('SIGKILL');
      rmSync(folder, { recursive: true, force: true, maxRetries: 3 });
      process.exit(1);
    });
  }
}

/** Keeps one child busy until no seed is left; one that hangs or dies costs its seed, and is replaced. */
function work(seeds, told, folder) {
  return new Promise((resolve) => {
    let child;
    let patience;
    let inHand;
    const next = () => {
      inHand = seeds.shift();
      if (inHand === undefined) {
        child.removeAllListeners('exit');
        children.delete(child);
        child.disconnect();
        resolve();
        return;
      }
      patience = setTimeout(() => child.kill('SIGKILL'), MOST_REAL_MS);
      child.send(inHand);
    };
    const start = () => {
      child = fork(fileURLToPath(import.meta.url), ['--child'], { env: { ...process.env, TMPDIR: folder } });
      children.add(child);
      child.on('message', (message) => {
        clearTimeout(patience);
        if (message !== 'ready') told(message);
        next();
      });
      child.once('exit', (code, signal) => {
        clearTimeout(patience);
        children.delete(child);
        told({ seed: inHand, strikes: [], attempts: [], problems: [`its process ended with ${code ?? signal}: hung for ${MOST_REAL_MS / 1000} s of real time, or died`] });
        start();
      });
    };
    start();
  });
}

function summaryOf(reports, seconds) {
  const count = (wanted) => reports.filter(wanted).length;
  const ends = (end) => reports.flatMap(({ attempts }) => attempts).filter((attempt) => attempt.end === end).length;
  const struck = new Map();
  for (const { attempts } of reports) for (const attempt of attempts) for (const [kind, times] of Object.entries(attempt.struck)) struck.set(kind, [(struck.get(kind)?.[0] ?? 0) + 1, (struck.get(kind)?.[1] ?? 0) + times]);
  const sum = (key) => reports.reduce((all, report) => all + (report[key] ?? 0), 0);
  return [
    `${reports.length} nights: ${count(({ attempts }) => attempts.at(-1)?.end === 'finished')} finished, ${count(({ attempts }) => attempts.length > 1)} of them gone on with after ${ends('parked')} parks and ${ends('died')} deaths; ${ends('failed')} stuck on the way to safety; ${count(({ strikes }) => strikes.length === 0)} without any fault`,
    `${sum('tiles')} tiles recorded of ${sum('planned')}, ${sum('skipped')} of them skipped by name; ${sum('sure')} sure flakes to be found`,
    `faults that really struck, nights (times): ${[...struck].sort(([a], [b]) => (a < b ? -1 : 1)).map(([kind, [nights, times]]) => `${kind} ${nights} (${times})`).join(', ')}`,
    `${count(({ problems }) => problems.length > 0)} nights broke a promise; ${(sum('realMs') / 1000 / reports.length).toFixed(1)} s a night in its process, ${seconds.toFixed(0)} s in all`,
  ].join('\n');
}

async function main() {
  const only = argument('--only', undefined);
  const from = argument('--from', 1);
  const count = only === undefined ? argument('--seeds', Number.NaN) : 1;
  const processes = only === undefined ? argument('--processes', 2) : 1;
  // Every third seed has a third of the variations, and as few fault-free twins to be played.
  const every = argument('--every', 1);
  if (![count, from, every, processes, only ?? 0].every((n) => Number.isInteger(n) && n >= 0) || count < 1 || every < 1 || processes < 1 || processes > 64) {
    console.error(usage);
    process.exit(2);
  }
  await makeBundle('nights', new URL('../nights/report.ts', import.meta.url));
  const seeds = Array.from({ length: count }, (_, n) => (only ?? from) + n * every);
  const reports = [];
  const told = (report) => {
    reports.push(report);
    if (report.problems.length > 0 || only !== undefined) console.log(blockOf(report));
  };
  const folder = mkdtempSync(join(existsSync('/dev/shm') ? '/dev/shm' : tmpdir(), 'nightjar-nights-'));
  endWith(folder);
  const begin = performance.now();
  // A variation's fault-free twin is played once in a process: with two or four, each process has variations of its own.
  const shares = Array.from({ length: processes }, (_, n) => seeds.filter((seed) => seed % processes === n)).filter((share) => share.length > 0);
  await Promise.all(shares.map((share) => work(share, told, folder)));
  rmSync(folder, { recursive: true, force: true });
  console.log(summaryOf(reports, (performance.now() - begin) / 1000));
  process.exitCode = reports.every(({ problems }) => problems.length === 0) ? 0 : 1;
}

await (process.argv.includes('--child') ? beChild() : main());
