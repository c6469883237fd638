const date = /^(\d{4})(?:-(\d{3})(?!\d)|-(\d{2})(?:-(\d{2}))?|(\d{2})(\d{2})|-?W(\d{2})(?:-?([1-7]))?)?/;
const time = /^[T ](\d{2})(?::?(\d{2})(?::?(\d{2}(?:[.,]\d+)?))?)?(Z|([+\-\u2212])(\d{2})(?::?(\d{2}))?)?$/;
const [day, hour, minute] = [86_400_000, 3_600_000, 60_000];

/**
 * The instant that an ISO 8601 date or time begins, in milliseconds since 1970 UTC. A time without a zone is taken as UTC, so that
 * a log says the same on every machine; within a shop all stand in one zone, and their order is right.
 *
 * @param text a date that `isIsoDate` accepts
 * @throws {RangeError} for another text
 */
export function instantOf(text: string): number {
  const match = date.exec(text);
  const rest = text.slice(match?.[0].length ?? 0);
  const clock = rest === '' ? null : time.exec(rest);
  if (!match || (rest !== '' && !clock))
    throw new RangeError(
      `Cannot tell the time "${text}"; expected an ISO 8601 date such as 2026-03-14 or 2026-03-14T09:30`,
    );
  const [, year, ordinal, month, ofMonth, basicMonth, basicDay, week, ofWeek] = match;
  const start = (m = 0, d = 1): number => {
    // Date.UTC takes years below 100 for those of the last century.
    const instant = new Date(0);
    instant.setUTCFullYear(Number(year), m, d);
    return instant.getTime();
  };
  let begins = start(Number(month ?? basicMonth ?? 1) - 1, Number(ofMonth ?? basicDay ?? 1));
  if (ordinal !== undefined) begins = start(0, Number(ordinal));
  if (week !== undefined) {
    // Week 1 is the one with 4 January in it; weeks start on Monday (ISO 8601-1:2019, 3.1.1.23).
    const fourth = start(0, 4);
    const monday = fourth - ((new Date(fourth).getUTCDay() + 6) % 7) * day;
    begins = monday + ((Number(week) - 1) * 7 + Number(ofWeek ?? 1) - 1) * day;
  }
  if (!clock) return begins;
  const [, hours, minutes, seconds, , sign, zoneHours, zoneMinutes] = clock;
  const zone = (Number(zoneHours ?? 0) * hour + Number(zoneMinutes ?? 0) * minute) * (sign === '+' ? 1 : -1);
  const within =
    Number(hours) * hour + Number(minutes ?? 0) * minute + Number((seconds ?? '0').replace(',', '.')) * 1000;
  return begins + within - zone;
}

/** The day of an instant, `2026-03-14`. */
export function dayText(instant: number): string {
  return new Date(instant).toISOString().slice(0, 10);
}
