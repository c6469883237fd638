const date = /^(\d{4})(?:-(\d{3})(?!\d)|-(\d{2})(?:-(\d{2}))?|(\d{2})(\d{2})|-?W(\d{2})(?:-?([1-7]))?)?/;
const time = /^[T ](\d{2})(?::?(\d{2})(?::?(\d{2})(?:[.,]\d+)?)?)?(?:Z|[+\-\u2212](\d{2})(?::?(\d{2}))?)?$/;

/**
 * Whether a text is a date, or a date with a time, in ISO 8601 (2019, parts 1: calendar, ordinal and week dates, basic
 * or extended, reduced to month or year; a space may stand for the T, as RFC 3339 allows). The day must exist.
 */
export function isIsoDate(text: string): boolean {
  const match = date.exec(text);
  if (!match) return false;
  const [whole, year, ordinal, month, day, basicMonth, basicDay, week] = match;
  if (!dayExists(Number(year), { month: month ?? basicMonth, day: day ?? basicDay, ordinal, week })) return false;
  const rest = text.slice(whole.length);
  if (rest === '') return true;
  // A time of day belongs to one day.
  const oneDay = (day ?? basicDay ?? ordinal ?? match[8]) !== undefined;
  const clock = time.exec(rest);
  if (!oneDay || !clock) return false;
  const [hour, minute, second, zoneHour, zoneMinute] = clock
    .slice(1)
    .map((part: string | undefined) => Number(part ?? 0));
  const midnight = hour === 24 && minute === 0 && second === 0;
  return (hour! < 24 || midnight) && minute! < 60 && second! <= 60 && zoneHour! < 24 && zoneMinute! < 60;
}

type Parts = Record<'month' | 'day' | 'ordinal' | 'week', string | undefined>;

function dayExists(year: number, { month, day, ordinal, week }: Parts): boolean {
  if (ordinal !== undefined) return Number(ordinal) >= 1 && Number(ordinal) <= (isLeap(year) ? 366 : 365);
  if (week !== undefined) return Number(week) >= 1 && Number(week) <= weeksIn(year);
  if (month !== undefined && (Number(month) < 1 || Number(month) > 12)) return false;
  if (day === undefined) return true;
  return Number(day) >= 1 && Number(day) <= new Date(Date.UTC(2000 + (year % 400), Number(month), 0)).getUTCDate();
}

function isLeap(year: number): boolean {
  return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
}

/** A year has 53 weeks when it starts on a Thursday, or is a leap year that starts on a Wednesday. */
function weeksIn(year: number): number {
  const first = new Date(Date.UTC(2000 + (year % 400), 0, 1)).getUTCDay();
  return first === 4 || (first === 3 && isLeap(year)) ? 53 : 52;
}
