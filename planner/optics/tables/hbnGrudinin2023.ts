import type { IndexTable } from '../indexTable.ts';

/**
 * Hexagonal boron nitride, in-plane (ordinary) index; k is not reported and set to 0 (transparent in the visible).
 * Paper: D. V. Grudinin, G. A. Ermolaev, D. G. Baranov, A. N. Toksumakov, K. V. Voronin, A. S. Slavich, A. A. Vyshnevyy, A. B. Mazitov, I. A.
 * Kruglov, D. A. Ghazaryan, A. V. Arsenin, K. S. Novoselov, V. S. Volkov. Hexagonal boron nitride nanophotonics: a record-breaking material
 * for the ultraviolet and visible spectral ranges. Mater. Horiz., 10, 2427-2435 (2023) doi 10.1039/D3MH00215B.
 * Numbers from the refractiveindex.info database (M. N. Polyanskiy, Sci. Data 11, 94 (2024), doi 10.1038/s41597-023-02898-2), licence CC0 1.0.
 * Every 5 nm, interpolated linearly between the native points. k >= 0 absorbs.
 */
export const hbnGrudinin2023: IndexTable = {
  name: 'hbn-grudinin2023-o',
  startNm: 380,
  stepNm: 5,
  n: [
    2.3044, 2.29926, 2.29444, 2.28991, 2.28566, 2.28166, 2.2779, 2.27436, 2.27102, 2.26787, 2.26489, 2.26209, 2.25943, 2.25692, 2.25455, 2.2523,
    2.25017, 2.24815, 2.24623, 2.24441, 2.24269, 2.24105, 2.23948, 2.238, 2.23658, 2.23524, 2.23396, 2.23273, 2.23157, 2.23045, 2.22939, 2.22838,
    2.22741, 2.22648, 2.22559, 2.22475, 2.22393, 2.22316, 2.22241, 2.2217, 2.22101, 2.22036, 2.21973, 2.21912, 2.21854, 2.21799, 2.21745, 2.21694,
    2.21644, 2.21597, 2.21551, 2.21507, 2.21464, 2.21423, 2.21384, 2.21346, 2.2131, 2.21274, 2.2124, 2.21207, 2.21176, 2.21145, 2.21116, 2.21087,
    2.2106, 2.21033, 2.21007, 2.20982, 2.20958, 2.20935, 2.20913, 2.20891, 2.2087, 2.20849, 2.20829, 2.2081, 2.20792, 2.20774, 2.20756, 2.20739,
    2.20723,
  ],
  k: [0],
};
