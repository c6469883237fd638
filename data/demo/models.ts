/** One invented instrument model. Strings are counted from the thinnest; every array over strings starts at string 1. */
export interface DemoModel {
  readonly model: string;
  readonly scaleMm: number;
  readonly frets: number;
  /** Open strings in scientific pitch notation. */
  readonly tuning: readonly string[];
  /** Whether models.csv tells the tuning; without it a reading in hertz needs its own `open_hz` or the usual tuning. */
  readonly tuningIsListed: boolean;
  /** Saddle parts, each with the strings that move together. */
  readonly saddles: readonly (readonly number[])[];
  readonly mmPerTurn: number;
  readonly travelMm: number;
  readonly gaugeMm: readonly number[];
  /** The thinnest wound string. */
  readonly woundFrom: number;
  /** How many of them came through the shop. */
  readonly instruments: number;
}

const single = (strings: number): number[][] => Array.from({ length: strings }, (_, i) => [i + 1]);
const six = ['E4', 'B3', 'G3', 'D3', 'A2', 'E2'];
const light = [0.25, 0.33, 0.43, 0.66, 0.91, 1.17];
const medium = [0.28, 0.36, 0.46, 0.71, 0.97, 1.24];

/** The models of the invented shop: 140 instruments, spread unevenly. No such instruments exist. */
export const demoModels: readonly DemoModel[] = [
  {
    model: 'Larch 6',
    scaleMm: 648,
    frets: 22,
    tuning: six,
    tuningIsListed: true,
    saddles: single(6),
    mmPerTurn: 0.7,
    travelMm: 14,
    gaugeMm: light,
    woundFrom: 4,
    instruments: 34,
  },
  {
    model: 'Thimble 6',
    scaleMm: 628,
    frets: 22,
    tuning: six,
    tuningIsListed: true,
    saddles: single(6),
    mmPerTurn: 0.5,
    travelMm: 9,
    gaugeMm: light,
    woundFrom: 4,
    instruments: 27,
  },
  {
    model: 'Gravel 6',
    scaleMm: 635,
    frets: 24,
    tuning: six,
    tuningIsListed: false,
    saddles: single(6),
    mmPerTurn: 0.7,
    travelMm: 12,
    gaugeMm: medium,
    woundFrom: 4,
    instruments: 22,
  },
  {
    model: 'Heron Bass 4',
    scaleMm: 864,
    frets: 21,
    tuning: ['G2', 'D2', 'A1', 'E1'],
    tuningIsListed: true,
    saddles: single(4),
    mmPerTurn: 0.8,
    travelMm: 20,
    gaugeMm: [1.14, 1.65, 2.16, 2.67],
    woundFrom: 1,
    instruments: 18,
  },
  {
    model: 'Barley 6',
    scaleMm: 648,
    frets: 21,
    tuning: six,
    tuningIsListed: false,
    saddles: [
      [1, 2],
      [3, 4],
      [5, 6],
    ],
    mmPerTurn: 0.6,
    travelMm: 12,
    gaugeMm: light,
    woundFrom: 4,
    instruments: 16,
  },
  {
    model: 'Teasel 7',
    scaleMm: 660,
    frets: 24,
    tuning: ['D4', 'A3', 'F3', 'C3', 'G2', 'D2', 'A1'],
    tuningIsListed: false,
    saddles: single(7),
    mmPerTurn: 0.6,
    travelMm: 12,
    gaugeMm: [...light, 1.5],
    woundFrom: 4,
    instruments: 11,
  },
  {
    model: 'Kettle 6',
    scaleMm: 632,
    frets: 20,
    tuning: six,
    tuningIsListed: false,
    saddles: [[1, 2, 3, 4, 5, 6]],
    mmPerTurn: 0.8,
    travelMm: 10,
    gaugeMm: medium,
    woundFrom: 3,
    instruments: 8,
  },
  {
    model: 'Quoin 6',
    scaleMm: 643,
    frets: 22,
    tuning: six,
    tuningIsListed: true,
    saddles: single(6),
    mmPerTurn: 0.7,
    travelMm: 12,
    gaugeMm: medium,
    woundFrom: 4,
    instruments: 4,
  },
];

/** The string numbers of a model, thinnest first. */
export function stringsOf(model: DemoModel): number[] {
  return model.tuning.map((_, i) => i + 1);
}

/** The lower half of a model's strings, wound ones only. */
export function lowWoundStrings(model: DemoModel): number[] {
  return stringsOf(model).filter((string) => string >= model.woundFrom && string > model.tuning.length / 2);
}

/** Whether a model's strings are tuned as six-strings usually are, so that a reader may take the tuning for granted. */
export function hasUsualTuning({ tuning }: DemoModel): boolean {
  return tuning.join() === six.join();
}

/** `models.csv` as DESIGN section 4 describes it. */
export function modelsCsv(): string {
  const header = 'model,scale_mm,strings,frets,saddles,mm_per_turn,travel_mm,placement,tuning';
  const rows = demoModels.map((m) =>
    [
      m.model,
      m.scaleMm,
      m.tuning.length,
      m.frets,
      m.saddles.map((part) => part.join('')).join('|'),
      m.mmPerTurn,
      m.travelMm,
      'equal',
      m.tuningIsListed ? m.tuning.join('|') : '',
    ].join(','),
  );
  return [header, ...rows, ''].join('\n');
}
