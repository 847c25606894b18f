import type { IndexTable } from '../indexTable.ts';

/**
 * Hexagonal BN, in-plane; the formula holds from 400 nm on, below that its value at 400 nm stands: Y. Rah, Y. Jin, S. Kim, K. Yu, Opt. Lett. 44, 3797-3800 (2019), doi 10.1364/OL.44.003797. Numbers as given by the refractiveindex.info database
 * (CC0 1.0, M. N. Polyanskiy, Sci. Data 11, 94 (2024)), at every 10 nm from 380 to 780 nm, linear between the database's points.
 */
export const hbn: IndexTable = {
  n: [
    2.2345, 2.2345, 2.2345, 2.2261, 2.2184, 2.2113, 2.2048, 2.1988, 2.1932, 2.188, 2.1832, 2.1787, 2.1746, 2.1707,
    2.167, 2.1636, 2.1604, 2.1573, 2.1545, 2.1518, 2.1493, 2.1469, 2.1446, 2.1424, 2.1404, 2.1385, 2.1366, 2.1349,
    2.1332, 2.1316, 2.1301, 2.1287, 2.1273, 2.126, 2.1247, 2.1235, 2.1224, 2.1213, 2.1202, 2.1192, 2.1182,
  ],
  k: Array.from({ length: 41 }, () => 0),
};
