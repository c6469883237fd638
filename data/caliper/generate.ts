import { fileURLToPath } from 'node:url';
import { ratioPlacement, ruleOfEighteen } from '../../src/acoustics/placement.ts';
import { writeFile } from '../../src/sources/write-file.ts';
import { normalRandom } from '../../src/statistics/random.ts';

/** What the invented neck was made of: rule of eighteen, its nut filed back, one fret off its place. */
export const truth = {
  scaleMm: 640,
  nutSetbackMm: 0.35,
  frets: 20,
  wrongFret: { fret: 14, mm: 0.3 },
  fretSdMm: 0.03,
  readingSdMm: 0.03,
  rounds: 3,
} as const;

/** The caliper's log: every fret read three times, from the nut's front edge, shown to a hundredth of a millimetre. */
export function caliperLog(): string {
  const random = normalRandom(1834);
  const { nutToFretMm } = ratioPlacement(truth.scaleMm, truth.frets, ruleOfEighteen);
  const stands = nutToFretMm.map(
    (mm, fret) =>
      mm +
      truth.nutSetbackMm +
      truth.fretSdMm * random() +
      (fret === truth.wrongFret.fret ? truth.wrongFret.mm : 0),
  );
  const rows = Array.from({ length: truth.rounds }, () =>
    stands.map((mm, fret) => `${fret},${(mm + truth.readingSdMm * random()).toFixed(2)},${truth.scaleMm}\n`).slice(1),
  );
  return `fret,nut_to_fret_mm,scale_mm\n${rows.flat().join('')}`;
}

if (process.argv[1] === fileURLToPath(import.meta.url))
  await writeFile(fileURLToPath(new URL('wicket-6.csv', import.meta.url)), caliperLog());
