// Everything that comes from outside, in as many wrong ways as time allows: the laws of tests/fuzz, each door in a process of its own, so that a crash, a
// hang or a door that takes all memory is seen as what it is.
// npm run fuzz -- [--runs 10000] [--door NAME] [--trial NAME] [--seed N]
// Ends with 1 when a law is broken anywhere; the failure prints the seed and the smallest counterexample.
import { fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { makeBundle, openBundle } from './bundle.mjs';

const argument = (name, usual) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : usual);
const runs = Number(argument('--runs', 10_000));
const seed = Number(argument('--seed', Date.now() % 1_000_000));
const onlyDoor = argument('--door');
const onlyTrial = argument('--trial');
const isChild = process.argv.includes('--in-process');
if (!(Number.isInteger(runs) && runs > 0 && Number.isInteger(seed))) {
  console.error('usage: npm run fuzz -- [--runs N] [--door NAME] [--trial NAME] [--seed N]');
  process.exit(2);
}

/** A process that tells nothing for so long hangs. */
const SILENCE_MS = 60_000;
const BEAT_MS = 5000;
const MOST_HEAP_MB = 768;

// As deep below the top as the sources are: they look for files of the house from where they lie.
const bundle = 'tests/fuzz/doors';
const bundled = async () => (await openBundle(bundle)).doors;

async function inProcess() {
  const door = (await bundled()).find(({ name }) => name === onlyDoor);
  let now = '';
  process.on('unhandledRejection', (error) => process.send({ trial: now, runs: 0, seconds: 0, failure: `an unhandled rejection: ${error?.stack ?? error}` }));
  for (const trial of door.trials.filter(({ name }) => onlyTrial === undefined || name === onlyTrial)) {
    now = trial.name;
    const startMs = Date.now();
    let lastMs = 0;
    let inputs = 0;
    const beat = () => {
      inputs++;
      if (Date.now() - lastMs < BEAT_MS) return;
      lastMs = Date.now();
      process.send({ beat: `${trial.name}, input ${inputs}` });
    };
    const end = await trial.run(runs, seed, beat);
    process.send({ trial: trial.name, ...end, seconds: (Date.now() - startMs) / 1000 });
  }
  process.send({ done: true, memoryMb: process.resourceUsage().maxRSS / 1024 }, () => process.exit(0));
}

/** Runs one door and resolves with its failures. */
function doorInChild(name) {
  return new Promise((resolve) => {
    const failures = [];
    let at = 'its first input';
    let isDone = false;
    let silence;
    const more = onlyTrial === undefined ? [] : ['--trial', onlyTrial];
    const child = fork(fileURLToPath(import.meta.url), ['--in-process', '--door', name, '--runs', `${runs}`, '--seed', `${seed}`, ...more], { execArgv: [`--max-old-space-size=${MOST_HEAP_MB}`] });
    const listen = () => {
      clearTimeout(silence);
      silence = setTimeout(() => {
        failures.push(`${name}: hangs at ${at}, seed ${seed}`);
        child.kill('SIGKILL');
      }, SILENCE_MS);
    };
    listen();
    child.on('message', (said) => {
      listen();
      if (said.beat) at = said.beat;
      if (said.done) {
        isDone = true;
        console.log(`${name}: ${said.memoryMb.toFixed(0)} MB at most`);
      }
      if (!said.trial) return;
      console.log(`${name} / ${said.trial}: ${said.runs} runs, ${said.seconds.toFixed(1)} s${said.failure ? ', FAILED' : ''}`);
      if (!said.failure) return;
      failures.push(`${name} / ${said.trial}`);
      console.log(said.failure);
    });
    child.on('exit', (code, signal) => {
      clearTimeout(silence);
      if (!isDone && failures.length === 0) failures.push(`${name}: the process ended (${signal ?? code}) at ${at}, seed ${seed}`);
      resolve(failures);
    });
  });
}

if (isChild) await inProcess();
else {
  await makeBundle(bundle, new URL('../fuzz/doors.ts', import.meta.url), { sourcemap: 'inline' });
  const names = (await bundled()).map(({ name }) => name).filter((name) => onlyDoor === undefined || name === onlyDoor);
  if (names.length === 0) console.error(`no door is called ${onlyDoor}`);
  console.log(`seed ${seed}, ${runs} runs a trial`);
  const failures = [];
  for (const name of names) failures.push(...(await doorInChild(name)));
  for (const failure of failures) console.log(`broken: ${failure}`);
  console.log(failures.length === 0 ? '\nEvery law is kept.' : `\n${failures.length} broken.`);
  if (failures.length > 0 || names.length === 0) process.exitCode = 1;
  // Workers and timers of what was bundled must not keep it.
  process.exit();
}
