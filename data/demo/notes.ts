import type { Random } from './random.ts';
import type { TechnicianTruth } from './truth.ts';

/** What the technicians jot down: with commas, semicolons, quotation marks, line breaks and umlauts, as in any shop. */
const notes: Record<TechnicianTruth['technician'], readonly string[]> = {
  'tech-a': [
    'new string',
    'new strings, stretched',
    'nut slot filed, tuned again',
    'owner says "a little sharp up high"',
    'saddle screw stiff',
    'saddle screw stiff,\nloosened with a drop of oil\nand read again',
    'frets dressed last year;\nneck straightened today',
    'read twice',
  ],
  'tech-b': [
    'ok',
    'relief set first',
    'new strings, stretched',
    'owner plays with a light hand',
    'high fret ends, see ticket',
    'tuner jumped,\nread again',
  ],
  'tech-c': [
    'neue Saiten',
    'Sattelkerbe gefeilt; Öl auf das Griffbrett',
    'Bünde poliert',
    'Saite größer als üblich, vorher 0,25',
    'laut Kunde „oben zu hoch“',
    'Stegreiter zurück – nachgestimmt',
    'Schraube schwergängig;\nspäter noch einmal geprüft',
  ],
};

/** A note for one string at one pass: most often none. */
export function noteFor(random: Random, technician: TechnicianTruth['technician']): string {
  return random.uniform() < 0.06 ? random.pick(notes[technician]) : '';
}
