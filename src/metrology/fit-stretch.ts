import { fitLinear, type LinearEstimate } from '../statistics/least-squares.ts';

/** Pitch of a string after it was made longer, by turning its peg or pulling its end. */
export interface StretchReading {
  readonly addedMm: number;
  readonly hz: number;
  /** Standard deviation of the frequency, where it was found; given for all readings or for none. */
  readonly sdHz?: number;
}

/** How strongly a string answers to stretch. */
export interface StretchFit {
  /** R, relative change of frequency over relative change of length; see `responseOfR`. */
  readonly r: LinearEstimate;
  /** Slope of frequency on added length, in hertz per mm. */
  readonly hzPerMm: LinearEstimate;
}

/**
 * R of a string from its pitch as it is stretched: the slope of frequency on added length, by least squares, times length over
 * frequency. Readings are weighted by `1 / sd^2` where standard deviations are given; standard errors come from the residuals.
 *
 * @param at the length in mm that was stretched and the frequency in hertz that R is taken at
 * @see Anderson & Beausoleil, "Classical Guitar Intonation and Compensation: The Well-Tempered Guitar"
 *
 * @throws {RangeError} for fewer than 3 readings, readings at one length alone, or a value that is not positive
 */
export function fitStretch(
  readings: readonly StretchReading[],
  at: { readonly lengthMm: number; readonly hz: number },
  level = 0.95,
): StretchFit {
  for (const [name, value] of [
    ['length in mm', at.lengthMm],
    ['frequency in hertz', at.hz],
    ...readings.map(({ hz }) => ['frequency in hertz', hz] as const),
    ...readings.flatMap(({ sdHz }) => (sdHz === undefined ? [] : [['standard deviation in hertz', sdHz] as const])),
  ] as const)
    if (!(value > 0 && value < Infinity))
      throw new RangeError(`Cannot fit stretch with a ${name} of ${value}; expected a number above 0`);
  const added = readings.map(({ addedMm }) => addedMm);
  if (readings.length < 3 || new Set(added).size < 2)
    throw new RangeError(
      `Cannot fit stretch to ${readings.length} readings at ${new Set(added).size} lengths; expected 3 or more at 2 or more`,
    );
  const sds = readings.flatMap(({ sdHz }) => (sdHz === undefined ? [] : [sdHz]));
  if (sds.length !== 0 && sds.length !== readings.length)
    throw new RangeError(
      `Cannot fit stretch to ${readings.length} readings, ${sds.length} of them with a standard deviation; expected all or none`,
    );
  const fit = fitLinear(
    {
      response: readings.map(({ hz }) => hz),
      names: ['frequency', 'added length'],
      columns: [added.map(() => 1), added],
      ...(sds.length > 0 ? { weights: sds.map((sd) => 1 / sd ** 2) } : {}),
    },
    level,
  );
  const hzPerMm = fit.coefficients[1]!;
  const scale = at.lengthMm / at.hz;
  return {
    hzPerMm,
    r: {
      ...hzPerMm,
      term: 'R',
      estimate: scale * hzPerMm.estimate,
      standardError: scale * hzPerMm.standardError,
      low: scale * hzPerMm.low,
      high: scale * hzPerMm.high,
    },
  };
}
