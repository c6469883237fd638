/**
 * A log, models file or mapping file that cannot be read at all, as opposed to a row that is refused.
 *
 * The message names the file and what was found, and ends in `advice`: what the person can do about it.
 */
export class LogError extends Error {
  override readonly name = 'LogError';
  readonly file: string;
  readonly advice: string;

  constructor(file: string, problem: string, advice: string) {
    super(`${file}: ${problem}. ${advice}`);
    this.file = file;
    this.advice = advice;
  }
}
