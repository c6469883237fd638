import { riseShape } from '../../src/acoustics/frets.ts';
import { evenShare, rise, sharedCents } from '../../src/acoustics/rise.ts';
import { frettedCents, moveForCents } from '../../src/acoustics/saddle.ts';
import { defaultSeed as shopSeed, makeShop } from '../demo/make-shop.ts';
import { demoModels } from '../demo/models.ts';
import { seededRandom, type Random } from '../demo/random.ts';
import { shopParameters, type CellTruth } from '../demo/truth.ts';

/** The seed of the committed log. */
export const defaultSeed = 611;

/** An instrument on the bench, with what is wrong with it. */
interface Job {
  readonly instrument: string;
  readonly model: string;
  /** What its screws make of a turn, over what models.csv states. */
  readonly screw: number;
  readonly passes: 1 | 2;
  /** Whether the saddle's place is written down. */
  readonly isRuled: boolean;
  /** A string that rises by so many cents more, and one whose open string was not retuned after the move. */
  readonly damaged?: { readonly string: number; readonly cents: number };
  readonly untuned?: { readonly string: number; readonly cents: number };
  /** A string whose 17th was not read. */
  readonly without17?: number;
}

/** Three jobs of one morning: a model of the shop, one with paired saddles, and one that the shop has never had. */
export const jobs: readonly Job[] = [
  {
    instrument: 'J2001',
    model: 'Larch 6',
    screw: 0.6,
    passes: 2,
    isRuled: false,
    damaged: { string: 4, cents: 9 },
    untuned: { string: 2, cents: 9 },
  },
  { instrument: 'J2002', model: 'Barley 6', screw: 1, passes: 2, isRuled: true },
  { instrument: 'J2003', model: 'Willow 6', screw: 1, passes: 1, isRuled: false, without17: 6 },
];

/** One row of the log. */
interface Row {
  readonly string: number;
  readonly fret: number;
  readonly cents: number;
  readonly saddleMm: number;
}

const header = 'instrument,model,string,fret,pass,cents,measured_at,technician,saddle_mm,resolution_cents';

/**
 * The readings of three invented jobs as a technician takes them: as received, and after the first saddle move. Rises and nut
 * offsets are those of the demo shop's models; saddles go to the eighth of a turn, toward an even split.
 *
 * @param seed whole number from 1 to 2^32 - 1; the same seed gives the same text
 */
export function makeBenchLog(seed: number): string {
  const random = seededRandom(seed);
  const { cells } = makeShop(shopSeed).truth;
  const lines = jobs.flatMap((job, at) =>
    readJob(random, job, cells).flatMap((rows, pass) =>
      rows.map(({ string, fret, cents, saddleMm }) =>
        [
          ...[job.instrument, job.model, string, fret, pass, cents.toFixed(1)],
          `2026-07-06T${String(9 + at).padStart(2, '0')}:${pass === 0 ? '05' : '40'}:00Z`,
          ...['tech-a', job.isRuled ? saddleMm.toFixed(2) : '', '0.1'],
        ].join(','),
      ),
    ),
  );
  return `${[header, ...lines].join('\n')}\n`;
}

/** Rows of each pass. */
function readJob(random: Random, job: Job, cells: readonly CellTruth[]): Row[][] {
  const model = demoModels.find(({ model: name }) => name === job.model) ?? { ...demoModels[0]!, model: job.model };
  const shared = random.normal(shopParameters.instrumentRiseSd);
  const strings = model.tuning.map((_, at) => {
    // A model that the shop has never had rises like the mean of those it has had.
    const own = cells.filter(({ model: name, string }) => string === at + 1 && name === model.model);
    const like = own.length > 0 ? own : cells.filter(({ string }) => string === at + 1);
    const mean = (of: (cell: CellTruth) => number): number =>
      like.reduce((sum, cell) => sum + of(cell), 0) / like.length;
    return {
      string: at + 1,
      nut: mean((cell) => cell.nut) + random.normal(shopParameters.stringNutSd),
      rise:
        mean((cell) => cell.rise) +
        shared +
        random.normal(shopParameters.stringRiseSd) +
        (job.damaged?.string === at + 1 ? job.damaged.cents : 0),
      offsetMm: own[0]?.saddleOffsetMm ?? 0,
    };
  });
  // Received well forward: every saddle has some way to go back.
  const partMm = model.saddles.map(() => -2 - random.uniform());
  const setback = (string: number): number =>
    partMm[model.saddles.findIndex((part) => part.includes(string))]! + strings[string - 1]!.offsetMm;
  const passes: Row[][] = [];
  for (let pass = 0; pass < job.passes; pass++) {
    if (pass > 0) {
      for (const [at, part] of model.saddles.entries()) {
        const wanted = part.map((string) => {
          const read = (fret: number): number =>
            passes[0]!.find((row) => row.string === string && row.fret === fret)!.cents;
          const target = sharedCents(evenShare, rise(read(12), read(17))).cents12;
          return moveForCents(12, target - read(12), { scaleMm: model.scaleMm, setbackMm: setback(string) });
        });
        const mean = wanted.reduce((sum, move) => sum + move, 0) / wanted.length;
        partMm[at]! += (Math.round((8 * mean) / model.mmPerTurn) / 8) * model.mmPerTurn * job.screw;
      }
    }
    passes.push(
      strings.flatMap((one) =>
        [12, 17]
          .filter((fret) => !(fret === 17 && job.without17 === one.string))
          .map((fret): Row => {
            const saddle = frettedCents(fret, { scaleMm: model.scaleMm, setbackMm: setback(one.string) });
            const open = pass > 0 && job.untuned?.string === one.string ? job.untuned.cents : 0;
            const cents =
              one.nut + one.rise * riseShape(fret) + saddle + open + random.normal(shopParameters.readingSd);
            return { string: one.string, fret, cents, saddleMm: Math.round(20 * setback(one.string)) / 20 };
          }),
      ),
    );
  }
  return passes;
}
