import type { IndexTable } from '../indexTable.ts';

/**
 * Crystalline silicon, 295 K.
 * Paper: 1) C. Schinke, P. C. Peest, J. Schmidt, R. Brendel, K. Bothe, M. R. Vogt, I. Kröger, S. Winter, A. Schirmacher, S. Lim, H. T. Nguyen,
 * D. MacDonald. Uncertainty analysis for the coefficient of band-to-band absorption of crystalline silicon. AIP Advances 5, 67168 (2015) 2) M.
 * R. Vogt. Development of physical models for the simulation of optical properties of solar cell modules. PhD. Thesis (2015) doi
 * 10.1063/1.4923379.
 * Numbers from the refractiveindex.info database (M. N. Polyanskiy, Sci. Data 11, 94 (2024), doi 10.1038/s41597-023-02898-2), licence CC0 1.0.
 * Every 10 nm, as tabulated there. k >= 0 absorbs.
 */
export const siSchinke2015: IndexTable = {
  name: 'si-schinke2015',
  startNm: 380,
  stepNm: 10,
  n: [
    6.587, 6.025, 5.623, 5.341, 5.11, 4.932, 4.79, 4.673, 4.572, 4.485, 4.412, 4.349, 4.289, 4.235, 4.187, 4.145, 4.103, 4.073, 4.038, 4.006, 3.977,
    3.954, 3.931, 3.908, 3.888, 3.869, 3.851, 3.835, 3.817, 3.805, 3.791, 3.776, 3.765, 3.753, 3.741, 3.73, 3.719, 3.712, 3.701, 3.693, 3.684,
  ],
  k: [
    0.98399, 0.50308, 0.32627, 0.24127, 0.17694, 0.13766, 0.11201, 0.095362, 0.079105, 0.07024, 0.059817, 0.05381, 0.048542, 0.043831, 0.039531,
    0.034804, 0.029896, 0.028038, 0.026551, 0.023746, 0.021896, 0.020076, 0.018521, 0.017257, 0.016809, 0.016268, 0.014693, 0.014447, 0.013608,
    0.012807, 0.012045, 0.011317, 0.010623, 0.009961, 0.009333, 0.008731, 0.008162, 0.007616, 0.007094, 0.006605, 0.006134,
  ],
};
