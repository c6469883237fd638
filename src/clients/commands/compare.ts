import { parseArgs } from 'node:util';
import { WrongCall, type Io } from '../io.ts';
import { readStandard } from '../read-standard.ts';

export const usage = `Usage: upneck compare EARLIER LATER [--json]

Sets a house standard beside the one it replaces: which strings need their
saddles set anew, which only a new card, and why. EARLIER and LATER are
house-standard.json files that "upneck standard" wrote.

  --json  print the comparison as JSON instead of the table
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: { json: { type: 'boolean', default: false } },
  });
  const [earlier, later] = positionals;
  if (earlier === undefined || later === undefined || positionals.length > 2)
    throw new WrongCall(
      `found ${positionals.length} ${positionals.length === 1 ? 'file' : 'files'}; expected two: the earlier house-standard.json and the later one`,
    );
  const { compareStandards } = await import('../../policy/compare-standards.ts');
  const [before, after] = await Promise.all([earlier, later].map((path) => readStandard(path, io.cwd)));
  const comparison = compareStandards(before!.standard, after!.standard);
  if (comparison.before > comparison.after)
    io.stderr(
      `${earlier} was drawn up after ${later} (${comparison.before}, ${comparison.after}); expected the earlier one first\n`,
    );
  if (values.json) {
    const { comparisonJson } = await import('../../policy/comparison-json.ts');
    io.stdout(comparisonJson(comparison));
  } else {
    const { comparisonText } = await import('../../policy/comparison-text.ts');
    io.stdout(comparisonText(comparison));
  }
  return 0;
}
