import { publishedStrings } from '../acoustics/published-strings.ts';

/**
 * Frequency in hertz of a string as it was made longer by 0, 0.5, ... 3 mm, and R with its standard error found from it: M. B.
 * Anderson and R. G. Beausoleil, "Classical Guitar Intonation and Compensation: The Well-Tempered Guitar", measurement workbook
 * and property tables.
 */
export interface PublishedStretch {
  readonly set: string;
  readonly string: number;
  /** Pitch that the string is made for. */
  readonly hz: number;
  readonly r: number;
  readonly rStandardError: number;
  readonly readings: readonly { readonly addedMm: number; readonly hz: number; readonly sdHz?: number }[];
}

function row(
  set: string,
  string: number,
  [r, rStandardError]: readonly [number, number],
  hz: readonly number[],
  sds?: readonly number[],
): PublishedStretch {
  const readings = hz.map((one, at) => ({ addedMm: at / 2, hz: one, ...(sds ? { sdHz: sds[at]! } : {}) }));
  const { hz: openHz } = publishedStrings.find((each) => each.set === set && each.string === string)!;
  return { set, string, hz: openHz, r, rStandardError, readings };
}

// prettier-ignore
export const publishedStretches: readonly PublishedStretch[] = [
  row('nylon-light', 1, [37.823198, 0.547215], [298.6, 309.2, 320.4, 330.3, 340.5, 350.5, 359.2]),
  row('nylon-light', 2, [42.590858, 0.986153], [221.8, 229.3, 238.7, 248.2, 257.2, 265.2, 271.7]),
  row('nylon-light', 3, [55.047363, 0.446729], [173.8, 183.5, 192.2, 201.1, 209.7, 218.2, 226.9]),
  row('nylon-light', 4, [31.367533, 1.23943], [133.7, 136.5, 139.2, 144.8, 148.7, 151.9, 155.3]),
  row('nylon-light', 5, [26.094447, 0.547114], [98.4, 100.8, 102.9, 105, 107.5, 109.8, 112.7]),
  row('nylon-light', 6, [28.45049, 1.07178], [71.5, 73.5, 74.8, 76.7, 79.4, 81.3, 82.6]),
  row('nylon-normal', 1, [23.614494, 0.499016], [326, 331.5, 337.5, 345, 352, 357.5, 363], [0.78, 0.76, 0.83, 0.89, 0.92, 0.93, 0.93]),
  row('nylon-normal', 2, [23.846767, 0.669735], [241, 246, 252, 256, 259.5, 265, 270.5], [0.6, 0.63, 0.63, 0.58, 0.71, 0.72, 0.67]),
  row('nylon-normal', 3, [28.816629, 0.641934], [193, 197.5, 202, 206.5, 212, 215, 221], [0.47, 0.51, 0.49, 0.57, 0.54, 0.51, 0.51]),
  row('nylon-normal', 4, [22.523064, 0.770142], [144.8, 148.1, 151, 153.4, 156.6, 158.9, 160.7], [0.33, 0.32, 0.36, 0.39, 0.36, 0.41, 0.4]),
  row('nylon-normal', 5, [23.867842, 0.7226], [109.7, 112, 114, 116.6, 119, 120.5, 122.3], [0.28, 0.27, 0.31, 0.29, 0.31, 0.29, 0.31]),
  row('nylon-normal', 6, [28.610831, 0.367454], [81.9, 84.1, 85.7, 87.6, 89.7, 91.6, 93.5], [0.18, 0.2, 0.22, 0.21, 0.22, 0.22, 0.24]),
  row('nylon-hard', 1, [23.451712, 0.537076], [297.7, 304.4, 312.2, 317.9, 323.8, 329.2, 336.1]),
  row('nylon-hard', 2, [26.22887, 0.264174], [219.8, 225, 230, 235, 240.6, 245.9, 251.6]),
  row('nylon-hard', 3, [28.261522, 0.996711], [177.4, 181.7, 187.4, 192.8, 196.3, 200.1, 204.3]),
  row('nylon-hard', 4, [22.682516, 0.274836], [132.8, 135.7, 138, 141.1, 143.5, 146.5, 149.1]),
  row('nylon-hard', 5, [24.022827, 0.180817], [98.7, 100.6, 102.9, 105.1, 107.2, 109.4, 111.5]),
  row('nylon-hard', 6, [25.472495, 0.321719], [74.2, 75.7, 77.6, 79.4, 81, 82.8, 84.3]),
  row('nylon-xhard', 1, [25.818156, 0.431205], [293.8, 299.8, 307.5, 315.2, 322, 328.3, 334.7]),
  row('nylon-xhard', 2, [27.666311, 0.903454], [220.1, 226.1, 233.2, 238.9, 243.8, 248.5, 253.6]),
  row('nylon-xhard', 3, [29.580691, 0.559149], [177.7, 182.5, 188.1, 192.8, 196.9, 201.2, 206.4]),
  row('nylon-xhard', 4, [24.980613, 0.487678], [132.7, 135.2, 138.7, 142, 144.8, 147.3, 150.5]),
  row('nylon-xhard', 5, [23.743955, 0.241674], [97.7, 99.8, 101.7, 104.1, 106.1, 108.2, 110.5]),
  row('nylon-xhard', 6, [26.642421, 0.163042], [74.5, 76.3, 78.1, 80, 81.7, 83.5, 85.2]),
  row('carbon-normal', 1, [21.816474, 0.447735], [291.7, 297.5, 304.4, 310.5, 315.9, 320.7, 327.1]),
  row('carbon-normal', 2, [26.033662, 0.647043], [215, 220.4, 226.7, 232.3, 236.1, 241.8, 246.5]),
  row('carbon-normal', 3, [26.852918, 0.7893], [174, 179.1, 183.5, 188.5, 192.5, 195.8, 199.9]),
  row('carbon-normal', 4, [24.294169, 0.427946], [131.9, 134.8, 138.1, 141.2, 143.9, 146.5, 149.3]),
  row('carbon-normal', 5, [26.851385, 0.36859], [98.2, 100.5, 102.7, 105, 107.8, 110.2, 112.5]),
  row('carbon-normal', 6, [23.451712, 0.868944], [73.8, 76, 77.6, 79.2, 80.8, 81.9, 83.5]),
  row('carbon-hard', 1, [22.215312, 0.282835], [286.4, 292.2, 298.2, 303.4, 309.7, 316, 322.4]),
  row('carbon-hard', 2, [23.070048, 0.376955], [218.3, 222.3, 227.9, 232.1, 236.3, 241.1, 246.3]),
  row('carbon-hard', 3, [25.802054, 0.602278], [170.7, 174.4, 179.2, 183.9, 187.7, 191.4, 195]),
  row('carbon-hard', 4, [23.100352, 0.376573], [130.2, 132.5, 135.5, 137.9, 140.8, 143.8, 146.7]),
  row('carbon-hard', 5, [23.783794, 0.158356], [94.8, 96.8, 99, 101.2, 103.4, 105.4, 107.5]),
  row('carbon-hard', 6, [23.079463, 0.411918], [73.2, 74.6, 76.5, 77.9, 79.3, 80.8, 82.6]),
];
