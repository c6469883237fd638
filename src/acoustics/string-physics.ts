/** What a string is made of and how it is strung. */
export interface StringBuild {
  /** Pitch of the open string in hertz. */
  readonly hz: number;
  /** Length that sounds open, in mm. */
  readonly scaleMm: number;
  /** Mass over length in mg/mm (the same number in g/m). */
  readonly densityMgPerMm: number;
  /** Diameter in mm of what carries the tension: of a plain string all of it, of a wound one its core. */
  readonly coreMm: number;
  /** Young's modulus of that, in GPa. */
  readonly modulusGpa: number;
}

/** What the pitch of a stopped string depends on beside its lengths; both numbers have no unit. */
export interface StringResponse {
  /** Relative rise of tension over relative stretch, `E A / T`. */
  readonly tensionPerStretch: number;
  /** Stiffness of the open string at scale length, `sqrt(E I / T) / L`: for a round core `sqrt(E A / T) r / (2 L)`. */
  readonly stiffness: number;
}

/**
 * Tension in newtons that brings a string to pitch: `T = mu (2 L f)^2` (Mersenne's law).
 *
 * @throws {RangeError} when pitch, length or density is not positive
 */
export function stringTension({
  hz,
  scaleMm,
  densityMgPerMm,
}: Pick<StringBuild, 'hz' | 'scaleMm' | 'densityMgPerMm'>): number {
  requirePositive({ 'pitch in hertz': hz, 'length in mm': scaleMm, 'linear density in mg/mm': densityMgPerMm });
  // mg/mm = 1e-3 kg/m and mm = 1e-3 m.
  return 1e-9 * densityMgPerMm * (2 * scaleMm * hz) ** 2;
}

/** Linear density in mg/mm of a round string of one material, `rho pi d^2 / 4`; densities in g/cm^3. */
export function plainDensity(diameterMm: number, gramsPerCm3: number): number {
  requirePositive({ 'diameter in mm': diameterMm, 'density in g/cm^3': gramsPerCm3 });
  return (gramsPerCm3 * Math.PI * diameterMm ** 2) / 4;
}

/** Core and wrap of a wound string: diameters of the two wires in mm, densities of their materials in g/cm^3. */
export interface WoundBuild {
  readonly coreMm: number;
  readonly coreGramsPerCm3: number;
  readonly wrapMm: number;
  readonly wrapGramsPerCm3: number;
}

/**
 * Linear density in mg/mm of a round core in one layer of round wire wound tight: a turn of the helix takes
 * `sqrt((pi (d + w))^2 + w^2)` of wire for `w` of string, d the core's and w the wire's diameter. The outside is `d + 2 w` thick.
 *
 * @throws {RangeError} when a diameter or density is not positive
 */
export function woundDensity({ coreMm, coreGramsPerCm3, wrapMm, wrapGramsPerCm3 }: WoundBuild): number {
  const wirePerLength = Math.hypot(Math.PI * (coreMm + wrapMm), wrapMm) / wrapMm;
  return plainDensity(coreMm, coreGramsPerCm3) + wirePerLength * plainDensity(wrapMm, wrapGramsPerCm3);
}

/**
 * Stretch and stiffness of a string from its build. The wrap of a wound string adds mass but carries no tension and does not
 * bend with the core (the usual idealisation; wound strings are somewhat stiffer).
 *
 * @throws {RangeError} when a value of the build is not positive
 */
export function responseOfBuild(build: StringBuild): StringResponse {
  requirePositive({ 'core diameter in mm': build.coreMm, "Young's modulus in GPa": build.modulusGpa });
  const areaMm2 = (Math.PI * build.coreMm ** 2) / 4;
  // GPa mm^2 = 1000 N.
  const tensionPerStretch = (1000 * build.modulusGpa * areaMm2) / stringTension(build);
  return response(tensionPerStretch, build.coreMm / 2, build.scaleMm);
}

/**
 * Stretch and stiffness of a string whose pitch was read as it was stretched: R is the relative change of frequency over the
 * relative change of length, so that `E A / T = 2 R + 1`.
 *
 * @see Anderson & Beausoleil, "Classical Guitar Intonation and Compensation: The Well-Tempered Guitar"
 *
 * @throws {RangeError} when R is not above -1/2, or radius or scale length is not positive
 */
export function responseOfR(
  r: number,
  { radiusMm, scaleMm }: { readonly radiusMm: number; readonly scaleMm: number },
): StringResponse {
  if (!(r > -0.5 && r < Infinity))
    throw new RangeError(`Cannot find the stretch of a string with R = ${r}; expected more than -0.5`);
  return response(2 * r + 1, radiusMm, scaleMm);
}

/** Young's modulus in GPa that a string behaves as if it had all over its cross-section, `(E A / T) T / (pi r^2)`. */
export function effectiveModulusGpa(tensionPerStretch: number, tensionN: number, radiusMm: number): number {
  requirePositive({ 'tension in N': tensionN, 'radius in mm': radiusMm });
  return (tensionPerStretch * tensionN) / (1000 * Math.PI * radiusMm ** 2);
}

function response(tensionPerStretch: number, radiusMm: number, scaleMm: number): StringResponse {
  requirePositive({ 'radius in mm': radiusMm, 'length in mm': scaleMm });
  return { tensionPerStretch, stiffness: (Math.sqrt(tensionPerStretch) * radiusMm) / (2 * scaleMm) };
}

function requirePositive(values: Readonly<Record<string, number>>): void {
  for (const [name, value] of Object.entries(values))
    if (!(value > 0 && value < Infinity))
      throw new RangeError(`Cannot take ${value} for a string's ${name}; expected a number above 0`);
}
