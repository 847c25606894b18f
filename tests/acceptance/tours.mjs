// Routes against known optima: every TSPLIB instance of a folder, and the time for 2,000 places.
// node tests/acceptance/tours.mjs FOLDER
// Ends with 1 when a tour is more than 5 % longer than the proven optimum. Time is printed and decides nothing.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

const [folder] = process.argv.slice(2);
if (folder === undefined) {
  console.error('usage: node tests/acceptance/tours.mjs FOLDER');
  process.exit(2);
}
const { shortestTour } = await import(new URL('../../.build/planner/tour/shortestTour.js', import.meta.url));
const most = 0.05;

/** Proven optima stand in the folder's README, one a row. */
const optima = new Map([...readFileSync(join(folder, 'README.md'), 'utf8').matchAll(/^\| (\w+) \| (\d+) \|$/gm)].map(([, name, length]) => [name, Number(length)]));

function readPlaces(file) {
  const [, section = ''] = readFileSync(file, 'utf8').split('NODE_COORD_SECTION');
  return [...section.matchAll(/^\s*\d+\s+(\S+)\s+(\S+)\s*$/gm)].map(([, x, y]) => [Number(x), Number(y)]);
}

/** EUC_2D: distances rounded to whole numbers. */
const rounded = (places) => (a, b) => Math.round(Math.hypot(places[a][0] - places[b][0], places[a][1] - places[b][1]));

function timed(work) {
  const begin = performance.now();
  const result = work();
  return [result, performance.now() - begin];
}

const rows = [];
let isMet = true;
for (const file of readdirSync(folder).filter((name) => name.endsWith('.tsp')).sort()) {
  const name = file.slice(0, -'.tsp'.length);
  const places = readPlaces(join(folder, file));
  const costOf = rounded(places);
  const [tour, ms] = timed(() => shortestTour(places.length, costOf, { closed: true }));
  const [open] = timed(() => shortestTour(places.length, costOf));
  const length = tour.reduce((sum, place, i) => sum + costOf(place, tour[(i + 1) % tour.length]), 0);
  const openLength = open.slice(1).reduce((sum, place, i) => sum + costOf(open[i], place), 0);
  const optimum = optima.get(name);
  const visited = new Set(tour).size === places.length && tour.length === places.length && new Set(open).size === places.length;
  const over = length / optimum - 1;
  // The best open tour is at most the best closed one without its longest leg.
  const isGood = visited && over <= most && openLength <= (1 + most) * optimum;
  isMet &&= isGood;
  rows.push(`${name.padEnd(10)} ${String(places.length).padStart(5)} ${String(optimum).padStart(8)} ${String(length).padStart(8)} ${(100 * over).toFixed(2).padStart(6)} % ${ms.toFixed(0).padStart(6)} ms   open ${openLength}${isGood ? '' : '   NOT MET'}`);
}
console.log(`instance   places  optimum    found   longer      time\n${rows.join('\n')}`);
const scattered = Array.from({ length: 2000 }, (_, i) => [(i * 7919) % 10_007, (i * 104_729) % 9973]);
const [, ms] = timed(() => shortestTour(2000, (a, b) => Math.hypot(scattered[a][0] - scattered[b][0], scattered[a][1] - scattered[b][1])));
console.log(`\n2,000 places in ${(ms / 1000).toFixed(2)} s (bar: less than 2 s)\nwithin 5 % of every optimum: ${isMet ? 'met' : 'NOT MET'}`);
process.exitCode = isMet ? 0 : 1;
