import { CsvError, parse } from 'csv-parse/sync';

/** One record of a CSV file, its cells trimmed, and the line it ends on. */
export interface CsvRecord {
  readonly record: readonly string[];
  readonly info: { readonly lines: number };
}

/**
 * The records of a small CSV file, header first; comma, semicolon or tab separated.
 *
 * @param file    name for messages
 * @param columns the columns that a message says were expected
 * @throws {RangeError} when the text is not CSV
 */
export function csvRecords(text: string, file: string, columns: readonly string[]): CsvRecord[] {
  // One separator a file, told by its header: a semicolon file may have decimal commas.
  const header = /^[^\r\n]*/.exec(text.trimStart())![0];
  const separators = (mark: string): number => header.split(mark).length;
  const delimiter = [',', ';', '\t'].reduce((a, b) => (separators(b) > separators(a) ? b : a));
  try {
    return parse(text, {
      bom: true,
      delimiter,
      trim: true,
      skip_empty_lines: true,
      relax_column_count: true,
      info: true,
    }) as unknown as CsvRecord[];
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    throw new RangeError(`${file}: not a CSV file (${error.message}); expected the columns ${columns.join(', ')}`, {
      cause: error,
    });
  }
}
