import { hzOfNote } from '../../src/acoustics/pitch.ts';

/**
 * The strings of M. B. Anderson and R. G. Beausoleil, "Classical Guitar Intonation and Compensation: The Well-Tempered
 * Guitar" (arXiv preprint and the authors' measurement workbook): six sets of six, named here by material and tension.
 */
export interface PublishedString {
  readonly set: string;
  readonly string: number;
  readonly hz: number;
  /** As printed by the maker: diameter in inches, linear density in pounds an inch, tension in pounds at 25.5 inches. */
  readonly diameterIn: number;
  readonly densityLbPerIn: number;
  readonly tensionLbf: number;
  readonly r: number;
  readonly stiffness: number;
  readonly modulusGpa: number;
  /** Setbacks in mm of saddle and nut that leave the least RMS error, and that error in cents, as printed. */
  readonly setbackMm: number;
  readonly nutSetbackMm: number;
  readonly rmsCents: number;
  /** Cents at frets 1, 6 and 12 without setbacks, from the figures' vector data; one string is not drawn. */
  readonly uncompensated: readonly [number, number, number] | null;
  /** The same with both setbacks where the paper has them before rounding. */
  readonly compensated: readonly [number, number, number];
}

type Three = readonly [number, number, number];

function row(
  set: string,
  string: number,
  note: string,
  [diameterIn, densityLbPerIn, tensionLbf]: Three,
  [r, stiffness, modulusGpa]: Three,
  [setbackMm, nutSetbackMm, rmsCents]: Three,
  uncompensated: Three | null,
  compensated: Three,
): PublishedString {
  const maker = { diameterIn, densityLbPerIn, tensionLbf };
  return {
    set,
    string,
    hz: hzOfNote(note),
    ...maker,
    ...{ r, stiffness, modulusGpa },
    ...{ setbackMm, nutSetbackMm, rmsCents, uncompensated, compensated },
  };
}

/** Specification tables, property tables, setback tables and curves of the paper. */
// prettier-ignore
export const publishedStrings: readonly PublishedString[] = [
  row('nylon-light', 1, 'E4', [0.0275, 2.024e-05, 14.8], [37.823198, 0.002352009, 13.2753], [1.95, -0.57, 0.229], [2.4719, 3.4779, 6.9136], [0.6661, -0.1890, 0.2065]),
  row('nylon-light', 2, 'B3', [0.0317, 2.729e-05, 11.2], [42.590858, 0.00287493, 8.50061], [2.37, -0.64, 0.259], [2.8045, 4.1004, 8.2458], [0.7529, -0.2143, 0.2357]),
  row('nylon-light', 3, 'G3', [0.0397, 4.525e-05, 11.7], [55.047363, 0.004087875, 7.29784], [3.39, -0.82, 0.339], null, [0.9832, -0.2817, 0.3139]),
  row('nylon-light', 4, 'D3', [0.028, 0.00010203, 14.8], [31.367533, 0.002183774, 10.6511], [1.76, -0.47, 0.190], [2.0803, 3.0496, 6.1263], [0.5524, -0.1569, 0.1711]),
  row('nylon-light', 5, 'A2', [0.033, 0.00015347, 12.5], [26.094447, 0.002351174, 5.40211], [1.83, -0.39, 0.159], [1.7932, 2.9312, 6.0495], [0.4617, -0.1317, 0.1442]),
  row('nylon-light', 6, 'E2', [0.042, 0.00028881, 13.2], [28.45049, 0.003122142, 3.83432], [2.40, -0.43, 0.175], [2.0138, 3.6331, 7.6755], [0.5073, -0.1464, 0.1627]),
  row('nylon-normal', 1, 'E4', [0.028, 2.092e-05, 15.3], [23.614494, 0.001899645, 8.32841], [1.48, -0.36, 0.143], [1.6010, 2.4739, 5.0315], [0.4167, -0.1182, 0.1283]),
  row('nylon-normal', 2, 'B3', [0.0322, 2.827e-05, 11.6], [23.846767, 0.002195088, 4.82209], [1.69, -0.36, 0.145], [1.6463, 2.7079, 5.5940], [0.4220, -0.1203, 0.1313]),
  row('nylon-normal', 3, 'G3', [0.0403, 4.679e-05, 12.1], [28.816629, 0.003014654, 3.86501], [2.33, -0.43, 0.177], [2.0232, 3.5670, 7.4979], [0.5129, -0.1477, 0.1637]),
  row('nylon-normal', 4, 'D3', [0.029, 0.00010754, 15.6], [22.523064, 0.001922449, 7.56088], [1.49, -0.34, 0.137], [1.5403, 2.4402, 4.9931], [0.3980, -0.1130, 0.1226]),
  row('nylon-normal', 5, 'A2', [0.035, 0.00018416, 15], [23.867842, 0.002386997, 5.28023], [1.83, -0.36, 0.146], [1.6682, 2.8547, 5.9524], [0.4234, -0.1210, 0.1326]),
  row('nylon-normal', 6, 'E2', [0.043, 0.00030632, 14], [28.610831, 0.003205318, 3.90132], [2.46, -0.43, 0.177], [2.0322, 3.7052, 7.8459], [0.5106, -0.1476, 0.1643]),
  row('nylon-hard', 1, 'E4', [0.0285, 2.161e-05, 15.8], [23.451712, 0.00192703, 8.24784], [1.50, -0.36, 0.143], [1.5945, 2.4869, 5.0699], [0.4140, -0.1175, 0.1276]),
  row('nylon-hard', 2, 'B3', [0.0327, 2.924e-05, 12], [26.22887, 0.00233568, 5.30936], [1.82, -0.40, 0.160], [1.7993, 2.9256, 6.0305], [0.4639, -0.1323, 0.1448]),
  row('nylon-hard', 3, 'G3', [0.041, 4.795e-05, 12.4], [28.261522, 0.003037842, 3.75428], [2.34, -0.42, 0.174], [1.9936, 3.5590, 7.5011], [0.5034, -0.1451, 0.1610]),
  row('nylon-hard', 4, 'D3', [0.03, 0.00011237, 16.3], [22.682516, 0.001995616, 7.43367], [1.54, -0.35, 0.138], [1.5574, 2.5028, 5.1396], [0.4010, -0.1140, 0.1239]),
  row('nylon-hard', 5, 'A2', [0.036, 0.00019521, 15.9], [24.022827, 0.002462993, 5.32408], [1.88, -0.36, 0.147], [1.6855, 2.9199, 6.1057], [0.4265, -0.1220, 0.1340]),
  row('nylon-hard', 6, 'E2', [0.044, 0.00031726, 14.5], [25.472495, 0.003098025, 3.44304], [2.35, -0.38, 0.158], [1.8388, 3.4757, 7.4104], [0.4556, -0.1318, 0.1467]),
  row('nylon-xhard', 1, 'E4', [0.029, 2.243e-05, 16.4], [25.818156, 0.002055422, 9.08505], [1.62, -0.39, 0.157], [1.7453, 2.6940, 5.4807], [0.4555, -0.1294, 0.1409]),
  row('nylon-xhard', 2, 'B3', [0.0333, 3.046e-05, 12.5], [27.666311, 0.002441657, 5.6202], [1.91, -0.42, 0.169], [1.8940, 3.0733, 6.3339], [0.4894, -0.1397, 0.1532]),
  row('nylon-xhard', 3, 'G3', [0.0416, 4.989e-05, 12.9], [29.580691, 0.003152192, 3.96833], [2.43, -0.44, 0.182], [2.0825, 3.7091, 7.8159], [0.5271, -0.1520, 0.1690]),
  row('nylon-xhard', 4, 'D3', [0.03, 0.00011237, 16.3], [24.980613, 0.002092192, 8.17058], [1.63, -0.38, 0.152], [1.7008, 2.6828, 5.4869], [0.4412, -0.1254, 0.1366]),
  row('nylon-xhard', 5, 'A2', [0.036, 0.00019521, 15.9], [23.743955, 0.002448948, 5.26353], [1.87, -0.36, 0.145], [1.6678, 2.8962, 6.0589], [0.4216, -0.1206, 0.1324]),
  row('nylon-xhard', 6, 'E2', [0.045, 0.00034351, 15.7], [26.642421, 0.003239009, 3.72462], [2.47, -0.40, 0.165], [1.9220, 3.6397, 7.7655], [0.4768, -0.1381, 0.1542]),
  row('carbon-normal', 1, 'E4', [0.024, 2.6e-05, 21.29], [21.816474, 0.001566388, 13.0381], [1.23, -0.33, 0.132], [1.4613, 2.1403, 4.2898], [0.3844, -0.1086, 0.1171]),
  row('carbon-normal', 2, 'B3', [0.0272, 3.4e-05, 15.35], [26.033662, 0.001935721, 8.85765], [1.53, -0.40, 0.158], [1.7449, 2.6137, 5.2759], [0.4586, -0.1301, 0.1414]),
  row('carbon-normal', 3, 'G3', [0.0331, 5e-05, 14.32], [26.852918, 0.002391692, 5.7123], [1.86, -0.41, 0.164], [1.8415, 2.9973, 6.1808], [0.4750, -0.1356, 0.1485]),
  row('carbon-normal', 4, 'D3', [0.028, 9.2e-05, 13.64], [24.294169, 0.00192623, 7.47234], [1.51, -0.37, 0.148], [1.6432, 2.5256, 5.1304], [0.4285, -0.1216, 0.1321]),
  row('carbon-normal', 5, 'A2', [0.035, 0.000173, 14.7], [26.851385, 0.002528908, 5.56758], [1.96, -0.41, 0.164], [1.8563, 3.1020, 6.4371], [0.4758, -0.1361, 0.1494]),
  row('carbon-normal', 6, 'E2', [0.044, 0.00032, 15.25], [23.451712, 0.002975064, 3.20258], [2.24, -0.35, 0.145], [1.7083, 3.2865, 7.0280], [0.4199, -0.1214, 0.1349]),
  row('carbon-hard', 1, 'E4', [0.0248, 2.8e-05, 22.74], [22.215312, 0.001633001, 13.3848], [1.28, -0.34, 0.135], [1.4915, 2.2087, 4.4405], [0.3915, -0.1107, 0.1195]),
  row('carbon-hard', 2, 'B3', [0.028, 3.6e-05, 16.27], [23.070048, 0.001878078, 7.86189], [1.46, -0.35, 0.140], [1.5672, 2.4323, 4.9518], [0.4072, -0.1155, 0.1253]),
  row('carbon-hard', 3, 'G3', [0.0339, 5.3e-05, 15.02], [25.802054, 0.002401983, 5.55085], [1.86, -0.39, 0.158], [1.7818, 2.9562, 6.1227], [0.4569, -0.1305, 0.1430]),
  row('carbon-hard', 4, 'D3', [0.029, 0.000103, 15.28], [23.100352, 0.001946402, 7.42326], [1.51, -0.35, 0.140], [1.5763, 2.4851, 5.0797], [0.4080, -0.1158, 0.1258]),
  row('carbon-hard', 5, 'A2', [0.036, 0.000199, 16.97], [23.783794, 0.00245096, 5.37454], [1.87, -0.36, 0.146], [1.6703, 2.8995, 6.0656], [0.4223, -0.1208, 0.1326]),
  row('carbon-hard', 6, 'E2', [0.046, 0.000343, 16.36], [23.079463, 0.00308603, 3.09194], [2.32, -0.35, 0.143], [1.6989, 3.3550, 7.2115], [0.4143, -0.1201, 0.1339]),
];

/** The instrument of the paper's tables: X0 = 650 mm, nut 1 mm and saddle 5 mm over the frets, finger at the fret. */
export const publishedHeights = { nutHeightMm: 1, saddleHeightMm: 1 + 4 };
export const publishedScaleMm = 650;

/** The pound force over an inch and the pound mass over an inch, in SI: NIST SP 811, appendix B.8. */
export const newtonsPerPound = 4.448222;
export const mgPerMmPerPoundPerInch = 1.785797e4;
