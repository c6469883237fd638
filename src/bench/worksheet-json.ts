import { kappa } from '../acoustics/frets.ts';
import type { HouseStandard } from '../policy/standard.ts';
import type { SaddleStory, StringPlan } from './saddle-story.ts';
import type { Worksheet } from './worksheet.ts';

const round = (value: number, digits: number): number => Number(value.toFixed(digits));
const orNull = (value: number | null | undefined, digits = 3): number | null =>
  value === null || value === undefined ? null : round(value, digits);

/**
 * `worksheets.json`: worksheets as text, by the schema in `shared/worksheets.schema.json`. Figures are rounded to 0.001 cents
 * and 0.001 mm.
 *
 * @param created ISO 8601
 */
export function worksheetsJson(sheets: readonly Worksheet[], standard: HouseStandard, created: string): string {
  const document = { version: 1, created, standard: standard.created, worksheets: sheets.map(sheetJson) };
  return `${JSON.stringify(document, null, 2)}\n`;
}

function sheetJson(sheet: Worksheet): Record<string, unknown> {
  return {
    instrument: sheet.instrument,
    model: sheet.model,
    pass: sheet.pass,
    scale_mm: sheet.facts.scaleMm,
    scale_from: sheet.facts.scaleFrom,
    mm_per_turn: sheet.facts.mmPerTurn,
    travel_mm: sheet.facts.travelMm,
    saddles: sheet.saddles.map(saddleJson),
    strings_beyond_standard: sheet.beyond,
    faults: sheet.faults.map(({ kind, strings, frets, cents, p, message }) => ({
      kind,
      strings,
      frets,
      cents: round(cents, 3),
      p: Number(p.toPrecision(3)),
      message,
    })),
    checks: sheet.checks,
    answers: sheet.answers,
    notes: sheet.notes,
  };
}

function saddleJson(saddle: SaddleStory): Record<string, unknown> {
  const { move, response } = saddle;
  return {
    pass: saddle.pass,
    strings: saddle.strings.map(stringJson),
    not_read: saddle.unread,
    action: move?.action ?? 'nothing',
    wanted_cents: orNull(move?.wantedCents),
    change_cents: orNull(move?.changeCents),
    move_mm: orNull(move?.moveMm),
    aim_mm: orNull(move?.aimMm),
    turns: orNull(move?.turns),
    reach: move?.reach ?? null,
    saddle_mm: orNull(saddle.facts.saddleMm),
    gain: round(saddle.gain.mean, 3),
    response: response
      ? {
          from_pass: response.from,
          predicted: round(response.predicted, 3),
          measured: round(response.measured, 3),
          measured_sd: round(response.measuredSd, 3),
          ratio: orNull(response.ratio),
          verdict: response.verdict,
          made_mm: orNull(saddle.madeMm),
          open_strings: response.openStrings.map(({ string, cents }) => ({ string, cents: round(cents, 3) })),
        }
      : null,
  };
}

function stringJson(plan: StringPlan): Record<string, unknown> {
  return {
    string: plan.string,
    read12: orNull(plan.read12),
    read17: orNull(plan.read17),
    rise_measured: orNull(plan.measured),
    rise_expected: round(plan.expected, 3),
    rise_usual: round(plan.usual, 3),
    rise_used: round(plan.shrunk, 3),
    reliability: round(plan.reliability, 4),
    share: round(plan.expectation.share, 4),
    expectation_from: plan.expectation.from,
    target12: round(plan.target, 3),
    target17: round(plan.target * kappa + plan.shrunk, 3),
    window: round(plan.window, 3),
    predicted12: orNull(plan.predicted12),
    predicted17: orNull(plan.predicted17),
    residual: orNull(plan.residual),
  };
}
