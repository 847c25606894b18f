// Chips for the ladder bench: films whose index, spacing and oxide are not those of the ladder's own tables, as a camera would measure them.
import { built } from '../acceptance/frameSetScore.mjs';

const { constantIndex, filmOf, halogen, idealColourBands, idealMonoBands, thicknessCurve } = await import(built('planner/optics/index.js'));

/** Repeatable chance, even between 0 and 1 (mulberry32, from memory). */
export function chance(seed) {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

const between = (random, low, high) => low + (high - low) * random();

/** Box and Muller. */
const normal = (random) => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

/** A table with n and k each off by up to a share at 400 nm and at 700 nm, and in between on the line between the two. */
function disturbed(table, share, random) {
  const bend = () => {
    const [blue, red] = [between(random, -share, share), between(random, -share, share)];
    return (nm) => 1 + blue + ((red - blue) * (nm - 400)) / 300;
  };
  const [ofN, ofK] = [bend(), bend()];
  const wide = Array.from({ length: 81 }, (_, i) => 380 + 5 * i);
  const at = (column, nm) => column[Math.min(column.length - 1, Math.max(0, Math.round((nm - table.startNm) / table.stepNm)))];
  return { name: `${table.name}-disturbed`, startNm: 380, stepNm: 5, n: wide.map((nm) => at(table.n, nm) * ofN(nm)), k: wide.map((nm) => at(table.k, nm) * ofK(nm)) };
}

/** Graphene as three papers have it: the table of the ladder, Ni et al. 2007 and Blake et al. 2007 (the two from memory). */
const grapheneFilms = [filmOf('graphene'), { table: constantIndex('ni2007', { n: 2, k: 1.1 }), layerThicknessNm: 0.335 }, { table: constantIndex('blake2007', { n: 2.6, k: 1.3 }), layerThicknessNm: 0.34 }];

/** A film as it might be: index and spacing off by up to a share each; graphene as one of three papers has it, and a little off. */
function filmAsItIs(material, share, random) {
  const film = material === 'graphene' ? grapheneFilms[Math.floor(3 * random())] : filmOf(material);
  return { table: disturbed(film.table, share, random), layerThicknessNm: film.layerThicknessNm * (1 + between(random, -share, share)) };
}

/** Layers of one terrace: thin ones, some up to eleven, and the thick ones that lie on every chip. */
function layersOf(random) {
  const draw = random() * 100;
  for (const [below, layers] of [[18, 1], [32, 2], [43, 3], [52, 4]]) if (draw < below) return layers;
  return draw < 70 ? 5 + Math.floor(7 * random()) : 12 + Math.floor(120 * random() ** 2);
}

/**
 * The samples of one chip with what they truly are.
 * @param kind material, oxide on the box, channels, share by which index and spacing may be off, fewest and most terraces
 * `second`, where there is one: aperture and noise of a second look, and the shares of that aperture that the light may fill
 * @returns samples with `layers` or `nm` beside each
 */
export function makeChip(kind, seed) {
  const random = chance(seed);
  const film = filmAsItIs(kind.material, kind.share, random);
  const oxideNm = kind.oxideNm * (1 + between(random, -0.05, 0.05));
  const bands = kind.channels === 1 ? idealMonoBands : idealColourBands;
  const count = kind.terraces[0] + Math.floor((kind.terraces[1] - kind.terraces[0] + 1) * random());
  const truth = Array.from({ length: count }, () => (kind.inNm ? { nm: between(random, 1, Math.sqrt(130)) ** 2 } : { layers: layersOf(random) }));
  const spacing = kind.inNm ? filmOf(kind.material).layerThicknessNm : film.layerThicknessNm;
  const thicknessesNm = truth.map((t) => t.nm ?? t.layers * spacing);
  const flare = between(random, 0.97, 1);
  const noise = kind.noise ?? NOISE;
  const filling = kind.second ? between(random, ...kind.second.filling) : 1;
  return truth.map((t, i) => {
    // The oxide is not quite the same under each flake.
    const localNm = oxideNm + 0.5 * normal(random);
    const seen = (numericalAperture, error) => {
      const { contrast } = thicknessCurve({ material: film, oxideNm: localNm, numericalAperture, lamp: halogen, bands, thicknessesNm: [thicknessesNm[i]] });
      return { contrast: contrast[0].map((c) => flare * c + error * normal(random)), contrastError: contrast[0].map(() => error) };
    };
    const first = { ...t, ...seen(0.3, noise) };
    return kind.second ? { ...first, second: seen(kind.second.numericalAperture * filling, kind.second.noise) } : first;
  });
}

/** One standard error of a measured contrast. */
const NOISE = 0.004;
