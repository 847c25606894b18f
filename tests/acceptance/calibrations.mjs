// Calibrations over simulated instruments: turned and mirrored cameras, stages out of scale and out of square, slack on each axis.
// node tests/acceptance/calibrations.mjs [--count 5] [--from 1] [--only camera,backlash,objectives,scale]
// Needs the build. Prints the largest error of each beside its bar; ends with 1 when one is missed.
import { calibrateOne, procedures } from './calibrationsOne.mjs';

const options = new Map(process.argv.slice(2).flatMap((word, i, words) => (word.startsWith('--') ? [[word.slice(2), words[i + 1] ?? '']] : [])));
const count = Number(options.get('count') ?? 5);
const from = Number(options.get('from') ?? 1);
const chosen = options.get('only')?.split(',') ?? procedures;

/** Largest error that is allowed, by what is measured. */
const bars = new Map([
  ['scale of columns, %', 0.1],
  ['scale of rows, %', 0.1],
  ['rotation, degrees', 0.02],
  ['slack of x, um', 0.5],
  ['slack of y, um', 0.5],
  ['picture centre x, um', 1],
  ['picture centre y, um', 1],
  ['focus, half depths of field', 1],
  ['true pixel, %', 0.1],
  ['stage against true um, %', 0.1],
]);

const errors = new Map();
let failed = 0;
for (let seed = from; seed < from + count; seed++) {
  for (const procedure of chosen) {
    const began = performance.now();
    try {
      const { found, about } = await calibrateOne(procedure, seed);
      for (const [what, error] of Object.entries(found)) errors.set(what, [...(errors.get(what) ?? []), Math.abs(error)]);
      const told = Object.entries(found).map(([what, error]) => `${what} ${error.toFixed(4)}`);
      console.log(`seed ${seed} ${procedure}: ${told.join('; ')} (${about}, ${((performance.now() - began) / 1000).toFixed(1)} s)`);
    } catch (error) {
      failed++;
      console.log(`seed ${seed} ${procedure}: ${error.message}`);
    }
  }
}
let isMet = failed === 0;
console.log(`\n${'error of'.padEnd(30)} ${'count'.padStart(6)} ${'usual'.padStart(9)} ${'largest'.padStart(9)} ${'bar'.padStart(7)}`);
for (const [what, values] of errors) {
  const bar = bars.get(what);
  const largest = Math.max(...values);
  const usual = Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
  isMet &&= largest <= bar;
  console.log(`${what.padEnd(30)} ${String(values.length).padStart(6)} ${usual.toFixed(4).padStart(9)} ${largest.toFixed(4).padStart(9)} ${String(bar).padStart(7)} ${largest <= bar ? 'met' : 'NOT MET'}`);
}
console.log(`${failed} of ${count * chosen.length} calibrations refused or failed\nall bars: ${isMet ? 'met' : 'NOT MET'}`);
process.exitCode = isMet ? 0 : 1;
