import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { main } from '../../src/clients/cli.ts';
import { normalRandom } from '../../src/statistics/random.ts';

/** Names that a page or a spreadsheet must not take for more than text. */
export const hostileNames = ['<img src=x onerror=alert(1)>', '=1+1'] as const;

/** What `upneck standard` wrote for a small invented shop: three models of four strings, two strings to a saddle. */
export interface SmallShop {
  readonly models: readonly string[];
  /** Files written, by name. */
  readonly files: Readonly<Record<'house-standard.json' | 'house-standard.csv' | 'bench-card.html', string>>;
}

/**
 * Draws up the standard of a small shop, from log files to written files as a person would.
 *
 * @param frets the frets that every instrument was read at
 */
export async function smallShop(frets: readonly number[]): Promise<SmallShop> {
  const models = ['Plain 4', ...hostileNames];
  const folder = mkdtempSync(join(tmpdir(), 'small-shop-'));
  try {
    const normal = normalRandom(11);
    const rows = models.flatMap((model, m) =>
      Array.from({ length: 5 }, (_, i) => `${m}-${i}`).flatMap((instrument) =>
        [1, 2, 3, 4].flatMap((string) => {
          const [nut, rise, saddle] = [0.6 + 0.3 * normal(), 1 + m + 0.5 * string + 0.6 * normal(), 3 * normal()];
          return frets.map((fret) => {
            const cents = nut + rise * riseShape(fret) + saddle * saddleLeverage(fret) + 0.4 * normal();
            return [instrument, model, string, fret, Number(cents.toFixed(2))];
          });
        }),
      ),
    );
    // Written plainly: the log of a shop does not put an apostrophe before a name.
    const quoted = (text: unknown): string => (/[",]/.test(String(text)) ? `"${String(text)}"` : String(text));
    writeFileSync(
      join(folder, 'log.csv'),
      [['instrument', 'model', 'string', 'fret', 'cents'], ...rows]
        .map((row) => `${row.map(quoted).join(',')}\n`)
        .join(''),
    );
    writeFileSync(
      join(folder, 'models.csv'),
      `model,scale_mm,strings,frets,saddles\n${models.map((model) => `${model},648,4,22,12|34\n`).join('')}`,
    );
    let messages = '';
    const code = await main(['standard', 'log.csv', '--out', 'out'], {
      stdout: () => undefined,
      stderr: (text) => (messages += text),
      columns: 80,
      isTerminal: false,
      cwd: folder,
      signal: new AbortController().signal,
    });
    if (code !== 0) throw new Error(`upneck standard ended with ${code}: ${messages}`);
    const read = (name: string): string => readFileSync(join(folder, 'out', name), 'utf8');
    return {
      models,
      files: {
        'house-standard.json': read('house-standard.json'),
        'house-standard.csv': read('house-standard.csv'),
        'bench-card.html': read('bench-card.html'),
      },
    };
  } finally {
    rmSync(folder, { recursive: true });
  }
}
