// What a second look at 50x/0.80 adds to the count of 10x/0.30, on simulated chips whose index, spacing, oxide and filling of the aperture
// are not those of the ladder's tables. No pictures: contrasts with noise, fitted and read as the run does.
// usage: node tests/bench/closeUps.mjs [--count N] [--from SEED] [--only NAME]
// Ends with 1 when, over all kinds, fewer than 90 % of the calls at p >= 0.9 are right together, or unsure calls do not get better on average.
import { built, tableText } from '../acceptance/frameSetScore.mjs';
import { rateText } from './accuracyBounds.mjs';
import { makeChip } from './laddersChips.mjs';

const { fitLadder } = await import(built('planner/layers/ladder.js'));
const { readContrast } = await import(built('planner/layers/posterior.js'));
const { fillingLogs, fillingWeights, readThrough, readTogether, secondLight } = await import(built('planner/layers/secondLight.js'));

const argument = (name) => (process.argv.includes(name) ? process.argv[process.argv.indexOf(name) + 1] : undefined);
const count = Number(argument('--count') ?? 20);
const from = Number(argument('--from') ?? 0);
const only = argument('--only') ?? '';
if (![count, from].every(Number.isInteger) || count < 1 || from < 0) {
  console.error('usage: node tests/bench/closeUps.mjs [--count N] [--from SEED] [--only NAME]');
  process.exit(2);
}

const NA = 0.8;
/** A camera pixel of the 50x covers a 25th of the area: a fifth of the noise, and as small as what else is uncertain lets it be. */
const second = { numericalAperture: NA, noise: 0.003, filling: [0.75, 0.98] };
const usual = { channels: 3, share: 0.05, terraces: [8, 15], second };
/** Large flakes, and small ones or dim light, whose first count is often unsure. */
const KINDS = [
  { ...usual, name: 'graphene-90', material: 'graphene', oxideNm: 90 },
  { ...usual, name: 'graphene-290', material: 'graphene', oxideNm: 290 },
  { ...usual, name: 'graphene-290-noisy', material: 'graphene', oxideNm: 290, noise: 0.015 },
  { ...usual, name: 'graphene-90-noisy', material: 'graphene', oxideNm: 90, noise: 0.015 },
  { ...usual, name: 'mos2-90', material: 'mos2', oxideNm: 90, share: 0.1 },
  { ...usual, name: 'mos2-285-noisy', material: 'mos2', oxideNm: 285, share: 0.1, noise: 0.015 },
].filter(({ name }) => name.includes(only));
const SURE = 0.9;
const LEAST = 0.9;

function readChip(kind, seed) {
  const samples = makeChip(kind, seed);
  const ladder = fitLadder({ material: kind.material, oxideNm: kind.oxideNm, numericalAperture: 0.3, lamp: 'halogen', channels: 3 }, samples);
  const light = secondLight(ladder, NA);
  const witnesses = [];
  return samples.map((sample) => {
    const first = readContrast(ladder, sample);
    const weights = fillingWeights(light, witnesses);
    const [alone, together] = [readThrough(light, weights, sample.second), readTogether(ladder, sample, light, weights, sample.second)];
    if (first.layers !== null) witnesses.push(fillingLogs(light, first, sample.second));
    return { layers: sample.layers, first, alone, together };
  });
}

/** Of what is countable: how many calls are sure, and right; and the probability given to the true number where the first pass was unsure. */
function judge(read) {
  const countable = read.filter(({ layers }) => layers <= 10);
  const sure = (pass) => read.filter((each) => each[pass].layers !== null && each[pass].probability >= SURE);
  const right = (pass) => sure(pass).filter((each) => each[pass].layers === each.layers).length;
  const unsure = countable.filter(({ first }) => first.layers === null || first.probability < SURE);
  const truth = (pass) => unsure.reduce((sum, each) => sum + each[pass].probabilities[each.layers] * (1 - (each[pass].stray ?? 0)), 0) / Math.max(1, unsure.length);
  const passes = ['first', 'alone', 'together'];
  return { countable: countable.length, unsure: unsure.length, sure: passes.map((p) => sure(p).length), right: passes.map(right), truth: passes.map(truth) };
}

const rows = [];
let [unsure, before, after, sure, right] = [0, 0, 0, 0, 0];
for (const kind of KINDS) {
  const judged = judge(Array.from({ length: count }, (_, n) => readChip(kind, 7919 * (from + n) + kind.name.length)).flat());
  const rates = judged.right.map((right, i) => rateText({ right, wanted: judged.sure[i] }));
  rows.push([kind.name, String(judged.countable), ...rates, String(judged.unsure), ...judged.truth.map((p) => p.toFixed(3))]);
  sure += judged.sure[2];
  right += judged.right[2];
  unsure += judged.unsure;
  before += judged.unsure * judged.truth[0];
  after += judged.unsure * judged.truth[2];
}
const isMet = right >= LEAST * sure && (unsure === 0 || after > before);
console.log(tableText(['chips', 'countable', 'sure: first', 'second', 'together', 'unsure', 'p(true): first', 'second', 'together'], rows));
console.log(`\nOf calls at p >= 0.9 at least 90 % right together (${rateText({ right, wanted: sure })}), and unsure calls better on average (${(before / Math.max(1, unsure)).toFixed(3)} to ${(after / Math.max(1, unsure)).toFixed(3)}): ${isMet ? 'met' : 'NOT MET'}`);
process.exitCode = isMet ? 0 : 1;
