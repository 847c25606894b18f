// Whether frames are in focus over their whole area, on simulated nights with tilted, bowed chips of 10 x 10 mm, drift and featureless places.
// The run's own code (mapFocus, FocusKeeper, FocusedTiles) drives the simulator's own devices in virtual time; only the pictures are cheap ones.
// usage: node tests/acceptance/focusNights.mjs --count CHIPS [--from SEED] [--per NIGHT] [--blank SHARE] [--events]
// Takes CHIPS chips per objective, so many to a night, and ends with 1 when fewer than 99 % of the frames are in focus over their whole area.
import { loadBundle } from './bundle.mjs';

const argument = (name, otherwise) => (process.argv.includes(name) ? Number(process.argv[process.argv.indexOf(name) + 1]) : otherwise);
const count = argument('--count', Number.NaN);
const from = argument('--from', 1);
const perNight = argument('--per', 5);
const blankShare = argument('--blank', 0.3);
if (![count, from, perNight].every((n) => Number.isInteger(n) && n >= 0) || count < 1 || perNight < 1 || perNight > 20 || !(blankShare >= 0 && blankShare < 1)) {
  console.error('usage: node tests/acceptance/focusNights.mjs --count CHIPS [--from SEED] [--per NIGHT] [--blank SHARE] [--events]');
  process.exit(2);
}
const BAR = 0.99;

const { OBJECTIVES, runFocusNight } = await loadBundle('focusNights', new URL('./focusRun.ts', import.meta.url));
let isMet = true;
for (const objective of Object.keys(OBJECTIVES)) {
  const total = { chips: 0, frames: 0, inFocus: 0, divided: 0, checks: 0, hours: 0, forecastHours: 0, worst: [] };
  const begin = performance.now();
  for (let seed = from; total.chips < count; seed++) {
    const chips = Math.min(perNight, count - total.chips);
    const night = await runFocusNight({ seed, objective, chips, blankShare });
    total.chips += chips;
    for (const key of ['frames', 'inFocus', 'divided', 'checks', 'hours', 'forecastHours']) total[key] += night[key];
    total.worst.push(...night.worst);
    if (process.argv.includes('--events')) console.log([`night ${seed}`, ...night.events, ...night.lost.map((line) => `  NOT IN FOCUS ${line}`)].join('\n'));
  }
  total.worst.sort((a, b) => a - b);
  const at = (share) => total.worst[Math.min(total.worst.length - 1, Math.floor(share * total.worst.length))]?.toFixed(2);
  const share = total.inFocus / total.frames;
  isMet &&= share >= BAR;
  console.log(
    `${objective}: ${total.chips} chips, ${total.frames} frames, ${(100 * share).toFixed(2)} % in focus over their whole area (bar ${100 * BAR} %: ${share >= BAR ? 'met' : 'NOT MET'}); `
      + `worst place of a frame, in half depths of field: median ${at(0.5)}, 95 % ${at(0.95)}, 99 % ${at(0.99)}, largest ${at(1)}; `
      + `${((100 * total.divided) / total.frames).toFixed(1)} % of frames at several heights; ${total.checks} checks of focus; nights of ${(60 * total.hours).toFixed(1)} min in all, forecast ${(60 * total.forecastHours).toFixed(1)} min; ${((performance.now() - begin) / 1000).toFixed(0)} s`,
  );
}
process.exitCode = isMet ? 0 : 1;
