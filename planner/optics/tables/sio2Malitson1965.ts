import type { IndexTable } from '../indexTable.ts';

/**
 * Fused silica, 20 C, which stands for thermal oxide (slightly denser, n 0.2 to 0.5 % higher: from memory).
 * Paper: 1) I. H. Malitson. Interspecimen comparison of the refractive index of fused silica. J. Opt. Soc. Am. 55, 1205-1208 (1965) 2) C. Z.
 * Tan. Determination of refractive index of silica glass for infrared wavelengths by IR spectroscopy. J. Non-Cryst. Solids 223, 158-163 (1998)
 * doi 10.1364/JOSA.55.001205, 10.1016/S0022-3093(97)00438-9.
 * Numbers from the refractiveindex.info database (M. N. Polyanskiy, Sci. Data 11, 94 (2024), doi 10.1038/s41597-023-02898-2), licence CC0 1.0.
 * Every 5 nm, from the formula of the paper as the database holds it. k >= 0 absorbs.
 */
export const sio2Malitson1965: IndexTable = {
  name: 'sio2-malitson1965',
  startNm: 380,
  stepNm: 5,
  n: [
    1.472485, 1.471856, 1.471252, 1.470673, 1.470116, 1.469581, 1.469066, 1.468571, 1.468094, 1.467634, 1.46719, 1.466763, 1.46635, 1.465951,
    1.465566, 1.465193, 1.464833, 1.464484, 1.464146, 1.463819, 1.463502, 1.463195, 1.462897, 1.462607, 1.462326, 1.462054, 1.461789, 1.461531,
    1.46128, 1.461037, 1.460799, 1.460569, 1.460344, 1.460124, 1.459911, 1.459703, 1.4595, 1.459301, 1.459108, 1.458919, 1.458735, 1.458554,
    1.458378, 1.458206, 1.458038, 1.457873, 1.457712, 1.457554, 1.457399, 1.457248, 1.4571, 1.456954, 1.456812, 1.456672, 1.456535, 1.4564,
    1.456268, 1.456139, 1.456011, 1.455886, 1.455764, 1.455643, 1.455524, 1.455407, 1.455292, 1.455179, 1.455068, 1.454959, 1.454851, 1.454745,
    1.45464, 1.454537, 1.454436, 1.454335, 1.454237, 1.454139, 1.454043, 1.453948, 1.453855, 1.453762, 1.453671,
  ],
  k: [0],
};
