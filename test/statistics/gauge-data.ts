import type { GaugeReadings } from '../../src/statistics/gauge-anova.ts';

/** A table of readings, `table[part][operator][repeat]`, as a gauge study takes them. */
export function gaugeReadings(table: readonly (readonly (readonly number[])[])[]): GaugeReadings {
  const rows = table.flatMap((operators, part) =>
    operators.flatMap((repeats, operator) =>
      repeats.map((value) => ({ value, part: `p${part}`, operator: `o${operator}` })),
    ),
  );
  return {
    values: rows.map(({ value }) => value),
    parts: rows.map(({ part }) => part),
    operators: rows.map(({ operator }) => operator),
  };
}

/**
 * Thermal impedance of a power module, in degrees Celsius per watt times 100: 10 parts, 3 inspectors, 3 readings. Houf & Berman
 * (1988), IEEE Trans. Components, Hybrids, Manuf. Technol. 11, 516; as printed in Vidakovic (2011), Statistics for
 * Bioengineering Sciences, Springer, example 11.14.
 */
export const thermalImpedance = [
  '37 38 37 41 41 40 41 42 41',
  '42 41 43 42 42 42 43 42 43',
  '30 31 31 31 31 31 29 30 28',
  '42 43 42 43 43 43 42 42 42',
  '28 30 29 29 30 29 31 29 29',
  '42 42 43 45 45 45 44 46 45',
  '25 26 27 28 28 30 29 27 27',
  '40 40 40 43 42 42 43 43 41',
  '25 25 25 27 29 28 26 26 26',
  '35 34 34 35 35 34 35 34 35',
].map(byThree);

/**
 * The example of Automotive Industry Action Group, Measurement Systems Analysis, Reference Manual, 4th ed. (2010): 10 parts, 3
 * appraisers, 3 trials. Data and results as quoted in public test suites.
 */
export const referenceManual = [
  '0.29 0.41 0.64 0.08 0.25 0.07 0.04 -0.11 -0.15',
  '-0.56 -0.68 -0.58 -0.47 -1.22 -0.68 -1.38 -1.13 -0.96',
  '1.34 1.17 1.27 1.19 0.94 1.34 0.88 1.09 0.67',
  '0.47 0.50 0.64 0.01 1.03 0.20 0.14 0.20 0.11',
  '-0.80 -0.92 -0.84 -0.56 -1.20 -1.28 -1.46 -1.07 -1.45',
  '0.02 -0.11 -0.21 -0.20 0.22 0.06 -0.29 -0.67 -0.49',
  '0.59 0.75 0.66 0.47 0.55 0.83 0.02 0.01 0.21',
  '-0.31 -0.20 -0.17 -0.63 0.08 -0.34 -0.46 -0.56 -0.49',
  '2.26 1.99 2.01 1.80 2.12 2.19 1.77 1.45 1.87',
  '-1.36 -1.25 -1.31 -1.68 -1.62 -1.50 -1.49 -1.77 -2.16',
].map(byThree);

function byThree(line: string): number[][] {
  const values = line.split(' ').map(Number);
  return [0, 3, 6].map((at) => values.slice(at, at + 3));
}
