import { signed } from '../acoustics/signed.ts';
import type { CausePart, Decomposition } from './decompose.ts';
import type { Weights } from './robust-weights.ts';

const ranged = ({ estimate, low, high }: CausePart['rise']): string =>
  `${signed(estimate)} cents (95 %, ${signed(low)} to ${signed(high)})`;
const percent = (part: number): string => {
  const value = 100 * part;
  return `${value < 0.1 ? 'less than 0.1' : `only ${value.toFixed(1)}`} %`;
};

/** A shape of which less than this part is not a saddle's is as good as a saddle's. */
const leastBesideSaddle = 0.02;
/** A size known no better than to this is not told: as much as is predicted of it. */
const leastKnown = 1;

/** What a decomposition told apart and what it did not, in plain sentences. */
export function decompositionNotes(
  { parts, together, hands, condition, total, strings, left }: Omit<Decomposition, 'notes'>,
  {
    dropped,
    weights,
    technicians,
    mostInflation,
  }: {
    readonly dropped: readonly string[];
    readonly weights: Weights;
    readonly technicians: number;
    readonly mostInflation: number;
  },
): string[] {
  const notes = [
    `The rise as it is read, t with the nut's part in it, is ${ranged(total)}, mean over ${strings.length} string${strings.length === 1 ? '' : 's'}. The saddle has no part in it, wherever it stands.`,
  ];
  for (const { cause, rise, size, inflation, besideSaddle } of parts) {
    const isTaken = size === null;
    if (isTaken) {
      notes.push(`${cause}: ${signed(rise.estimate)} cents, taken as predicted and not told from the readings.`);
      continue;
    }
    if (dropped.includes(`size of ${cause}`)) {
      notes.push(`${cause}: not told at all, since its shape is a sum of other shapes at the frets read.`);
      continue;
    }
    if (besideSaddle < leastBesideSaddle && size.high - size.low > 2 * leastKnown)
      notes.push(
        `${cause}: ${percent(besideSaddle)} of its shape is not that of a saddle, so nearly all it does is taken up by where the saddle stands. Its size cannot be told; what is left of it in the rise is ${ranged(rise)}.`,
      );
    else if (inflation > mostInflation) {
      const partners = together
        .filter(({ causes }) => causes.includes(cause))
        .map(({ causes }) => causes.find((one) => one !== cause)!);
      notes.push(
        `${cause}: ${ranged(rise)}, held apart badly (its variance is ${inflation.toFixed(0)} times what it would be if the other causes were known)` +
          (partners.length > 0 ? `; look at its sum with ${partners.join(' or with ')}.` : '.'),
      );
    } else notes.push(`${cause}: ${ranged(rise)}, told apart from the others.`);
  }
  for (const { causes, rise } of together)
    notes.push(
      `${causes[0]} and ${causes[1]} together: ${ranged(rise)}; the readings know this sum, and not its parts.`,
    );
  notes.push(
    `Condition number of the sizes: ${condition.toFixed(1)} (1 where all are told apart; beyond 30 small errors of the readings make large ones of the parts).`,
  );
  const odd = left.filter(({ adjustedP }) => adjustedP < 0.05);
  if (odd.length > 0)
    notes.push(
      `The causes do not account for fret${odd.length === 1 ? '' : 's'} ${odd.map(({ fret, cents }) => `${fret} (${signed(cents)} cents left)`).join(', ')}: a fret stands off, or a cause is missing or has another shape. Take the parts with care, and measure the frets.`,
    );
  else if (left.length > 0)
    notes.push('Fret by fret, the readings show nothing beyond chance that the causes leave out.');
  for (const { technician, rise } of hands)
    notes.push(`Hand of ${technician || 'the unnamed technician'} against the mean hand: ${ranged(rise)} of rise.`);
  if (hands.length === 0)
    notes.push(
      technicians > 1
        ? "The technicians' hands are not told apart: each would need at least 3 of these instruments. Their mean is in every part."
        : 'One hand read all: what it presses beyond what was assumed looks like nut and stretch, and is in them.',
    );
  if (dropped.some((term) => term.includes(' of technician ')))
    notes.push("Some technicians' hands cannot be told from what they read; they are taken as the mean hand.");
  if (weights.listed.length > 0)
    notes.push(
      `${new Set(weights.listed.map(({ instrument }) => instrument)).size} instruments fit badly on some string and count for less than half there; none is left out.`,
    );
  return notes;
}
