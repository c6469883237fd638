import type { Logs } from '../sources/read-logs.ts';

/** @throws {RangeError} with the first reason, when no row of the logs is a reading */
export async function requireReadings({ totals, rejects }: Logs): Promise<void> {
  if (totals.readings > 0) return;
  if (totals.rows === 0)
    throw new RangeError('no reading is left: the logs have a header and no rows. Give logs with readings in them');
  const { explain } = await import('../logs/reject.ts');
  const rows =
    totals.rows === 1 ? 'the only row was refused' : `all ${totals.rows} rows were refused, the first one for`;
  throw new RangeError(`no reading is left: ${rows}\n  ${explain(rejects[0]!)}\n"upneck import" tells of all of them`);
}
