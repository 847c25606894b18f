// Holds every call of a classified simulated set against what truly lies there.
import { contains } from './accuracyTruth.mjs';
import { MOST_COUNTED, openTruth, placesOn, tally } from './reliabilityTruth.mjs';

const LEAST_UM2 = 25;
const WANTED_UM2 = 50;
/** A flag with less than this share on true flakes of 1 to 10 layers is false (score.py's share). */
const FALSE_SHARE = 0.3;

const pairs = (outline) => outline.map((p) => [p.xUm, p.yUm]);

/** Area inside an outline, what lies on it included. */
function areaOf(outline) {
  const twice = outline.reduce((sum, [x, y], i) => {
    const [nextX, nextY] = outline[(i + 1) % outline.length];
    return sum + (x - outline[0][0]) * (nextY - outline[0][1]) - (nextX - outline[0][0]) * (y - outline[0][1]);
  }, 0);
  return Math.abs(twice / 2);
}

/** Terraces of a flake with those that lie on each: within a flake the smaller outline lies on top of the larger one, as score.py reads it. */
function stacked(flake) {
  const all = flake.terraces.map((terrace) => ({ terrace, outline: pairs(terrace.outlineUm) })).filter((t) => t.outline.length >= 3);
  const sized = all.map((t) => ({ ...t, outlineUm2: areaOf(t.outline) }));
  return sized.map((t) => ({ ...t, above: sized.filter((o) => o.outlineUm2 < t.outlineUm2).map((o) => o.outline) }));
}

/** The three most frequent things under some places, with their shares. */
function underText(truth, places) {
  const kinds = tally(places.map(([x, y]) => truth.kindAt(x, y)));
  return kinds.slice(0, 3).map(([kind, n]) => `${kind} ${Math.round((100 * n) / places.length)} %`).join(', ');
}

function judgeCall(truth, { terrace, outline, above }) {
  const places = placesOn(outline, above);
  const layers = places.map(([x, y]) => truth.layersAt(x, y));
  const [[most, count]] = tally(layers);
  const thin = layers.filter((n) => n >= 1 && n <= MOST_COUNTED).length / layers.length;
  return {
    terrace, called: terrace.call.layers, probability: terrace.call.probability, trueLayers: most, trueShare: count / layers.length,
    right: most === terrace.call.layers,
    isFalse: terrace.call.layers <= 4 && thin < FALSE_SHARE,
    under: underText(truth, places),
    cause: tally(places.map(([x, y]) => truth.kindAt(x, y)))[0][0],
    at: outline.reduce(([x, y], p) => [x + p[0] / outline.length, y + p[1] / outline.length], [0, 0]),
  };
}

/** Every terrace of 1 to 10 layers that was handed back, at least 25 um2 large, with its truth. */
function callsOf(truth, flakes) {
  const kept = flakes.filter((f) => f.verdict !== 'rejected').flatMap(stacked);
  const counted = kept.filter(({ terrace: { call, areaUm2 } }) => call.layers !== null && call.layers >= 1 && call.layers <= MOST_COUNTED && areaUm2 >= LEAST_UM2);
  return counted.filter(({ outline, above }) => placesOn(outline, above).length > 0).map((t) => judgeCall(truth, t));
}

/** What was made of a place of a true terrace, and the measured terrace that covers it. */
function answerAt(kept, rejected, x, y) {
  const covers = ({ outline, above }) => contains(outline, x, y) && !above.some((a) => contains(a, x, y));
  const hit = kept.find(covers);
  if (hit) return { ...hit, answer: hit.terrace.call.layers === null ? 'too thick to count' : hit.terrace.call.layers };
  const reject = rejected.find(covers);
  return reject ? { ...reject, answer: `rejected: ${reject.reason}` } : { answer: 'nothing' };
}

function judgeWanted(truth, kept, rejected, flake, index) {
  const terrace = flake.terraces[index];
  const places = placesOn(terrace.outlineUm, flake.terraces.slice(index + 1).map((t) => t.outlineUm));
  if (places.length === 0) return [];
  const answers = places.map(([x, y]) => answerAt(kept, rejected, x, y));
  const [[taken, most]] = tally(answers.map((a) => a.answer));
  const share = answers.filter((a) => a.answer === terrace.layers).length / places.length;
  const by = tally(answers.filter((a) => a.answer === taken).map((a) => a.terrace))[0][0];
  return [
    {
      layers: terrace.layers, areaUm2: terrace.areaUm2, at: flake.centreUm, right: share > 0.5, taken: `${taken} (${Math.round((100 * most) / places.length)} %)`, by,
      under: underText(truth, places), stack: flake.terraces.map((t) => t.layers).join('+'),
    },
  ];
}

/** True terraces of 1 to 4 layers, at least 50 um2 large, and what most of each was taken for. */
function wantedOf(set, truth, found) {
  const kept = found.filter((f) => f.verdict !== 'rejected').flatMap(stacked);
  const rejected = found.filter((f) => f.verdict === 'rejected').flatMap((f) => stacked(f).map((t) => ({ ...t, reason: f.reject })));
  // What lies round a chip is one reject whose outline goes round all the chip: the smallest says what a place was taken for.
  rejected.sort((a, b) => a.outlineUm2 - b.outlineUm2);
  const isWanted = (t) => t.layers <= 4 && t.areaUm2 >= WANTED_UM2;
  return set.truth.flakes.flatMap((flake) => flake.terraces.flatMap((t, i) => (isWanted(t) ? judgeWanted(truth, kept, rejected, flake, i) : [])));
}

/**
 * @param set what `makeSet` made
 * @param flakes every flake of the book, the rejected ones too
 */
export function judgeSet(set, flakes) {
  const truth = openTruth(set);
  return { set, calls: callsOf(truth, flakes), wanted: wantedOf(set, truth, flakes) };
}
