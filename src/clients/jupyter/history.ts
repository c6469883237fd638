/** One executed cell. */
interface Entry {
  readonly line: number;
  readonly input: string;
  output: string | null;
}

type Row = readonly [session: number, line: number, input: string | readonly [input: string, output: string | null]];

/** What has been executed in this session, which is session 0 of the protocol: the current one. */
export class History {
  private readonly entries: Entry[] = [];

  add(line: number, input: string): void {
    this.entries.push({ line, input, output: null });
  }

  setOutput(line: number, output: string): void {
    const entry = this.entries.findLast((one) => one.line === line);
    if (entry) entry.output = output;
  }

  /** Answers a history_request. */
  select(request: Readonly<Record<string, unknown>>): Row[] {
    const { hist_access_type: access, n, start, stop, session, pattern, unique, output } = request;
    let found = this.entries;
    if (access === 'range') {
      const from = typeof start === 'number' ? start : 0;
      const to = typeof stop === 'number' ? stop : Infinity;
      found = session === undefined || session === 0 ? found.filter(({ line }) => line >= from && line < to) : [];
    } else {
      if (access === 'search')
        found = found.filter(({ input }) => glob(typeof pattern === 'string' ? pattern : '*').test(input));
      if (unique === true)
        found = found.filter(({ input }, index) => !found.slice(index + 1).some((later) => later.input === input));
      if (typeof n === 'number') found = n > 0 ? found.slice(-n) : [];
    }
    return found.map((entry) => [0, entry.line, output === true ? [entry.input, entry.output] : entry.input]);
  }
}

/** The protocol's patterns: * is any text, ? one character. */
function glob(pattern: string): RegExp {
  const escaped = pattern.replace(/[.+^${}()|[\]\\]/g, '\\$&');
  return new RegExp(`^${escaped.replaceAll('*', '.*').replaceAll('?', '.')}$`, 's');
}
