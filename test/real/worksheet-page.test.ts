import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { main } from '../../src/clients/cli.ts';
import { standardJson } from '../../src/policy/standard-json.ts';
import { standardOf } from '../bench-worksheets/bench-standard.ts';
import { needs } from '../real-clients.ts';
import { lowContrast } from './contrast.ts';
import { launchChromium, openPage } from './open-page.ts';

const client = needs('chromium');
const kappa = 2 ** (17 / 12) - 1;

/** Twelve strings, all to be moved, with as many checks, answers and notes as a page shows: the fullest sheet there is. */
const sheets = ['six', 'twelve', 'six-full', 'twelve-full'] as const;

describe.skipIf(!client.found)('the worksheet in Chromium', () => {
  let folder = '';
  let browser: Browser;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'worksheet-page-'));
    const standard = standardOf(
      [6, 12].map((strings) => ({
        model: `Larch ${strings}`,
        rises: Array.from({ length: strings }, () => 3),
        share: 0,
        travelMm: 3,
      })),
    );
    writeFileSync(join(folder, 'standard.json'), standardJson(standard));
    for (const name of sheets) {
      const strings = name.startsWith('six') ? 6 : 12;
      const isFull = name.endsWith('full');
      const row = (string: number, fret: number, pass: number, cents: number): string =>
        `${name},Larch ${strings},${string},${fret},${pass},${cents.toFixed(1)}\n`;
      let text = 'instrument,model,string,fret,pass,cents\n';
      for (let string = 1; string <= strings; string++) {
        text += row(string, 12, 0, 8) + row(string, 17, 0, 3 + kappa * 8);
        // Full: saddles that answered badly, beyond their travel, and readings that look wrong.
        if (isFull) text += row(string, 12, 1, 60) + row(string, 17, 1, 3 + kappa * 62);
      }
      writeFileSync(join(folder, `${name}.csv`), isFull ? text + row(1, 12, 1, 60).repeat(9) : text);
      const code = await main(['worksheet', `${name}.csv`, '--standard', 'standard.json', '--out', '.'], {
        stdout: () => undefined,
        stderr: () => undefined,
        columns: 80,
        isTerminal: false,
        cwd: folder,
        signal: new AbortController().signal,
      });
      expect(code).toBe(0);
    }
    browser = await launchChromium(client.path);
  }, 240_000);

  afterAll(async () => {
    await browser?.close();
    if (folder !== '') rmSync(folder, { recursive: true });
  });

  const open = <T>(
    name: string,
    options: { readonly width?: number; readonly colorScheme?: 'light' | 'dark' },
    look: (page: Page) => Promise<T>,
  ): Promise<{ seen: T; faults: string[] }> => openPage(browser, join(folder, `worksheet-${name}.html`), options, look);

  test.each(sheets)('%s prints on one A4 page, nothing cut off at the side', async (name) => {
    const { seen } = await open(name, {}, async (page) => {
      const pdf = await page.pdf({ preferCSSPageSize: true });
      await page.emulateMedia({ media: 'print' });
      // A4 less 12 mm on either side, at 96 pixels an inch.
      await page.setViewportSize({ width: Math.floor(((210 - 24) / 25.4) * 96), height: 900 });
      const over = await page.evaluate(
        () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
      );
      return { text: pdf.toString('latin1'), over };
    });
    expect(seen.text.match(/\/Type\s*\/Page\b(?!s)/g)).toHaveLength(1);
    expect(seen.over).toBe(0);
    // ISO 216: A4 is 210 mm by 297 mm, 595.28 by 841.89 points; Chromium rounds to whole pixels of 0.75 points.
    const [, width, height] = /\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/.exec(seen.text)!;
    expect(Math.abs(Number(width) - 595.28)).toBeLessThan(0.75);
    expect(Math.abs(Number(height) - 841.89)).toBeLessThan(0.75);
  });

  test.each(['light', 'dark'] as const)('loads nothing, logs no error and is readable in %s', async (colorScheme) => {
    for (const name of ['six', 'twelve-full']) {
      const { seen, faults } = await open(name, { colorScheme }, (page) => page.evaluate(lowContrast));
      expect(faults).toEqual([]);
      expect(seen.texts).toBeGreaterThan(50);
      expect(seen.low).toEqual([]);
    }
  });

  test.each([1000, 400])('does not scroll sideways in a window %i px wide', async (width) => {
    const { seen } = await open('twelve-full', { width }, (page) =>
      page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth),
    );
    expect(seen).toBe(0);
  });

  test('has its headings in order, and a row of room for every string', async () => {
    const { seen } = await open('twelve-full', {}, async (page) => ({
      levels: await page.locator('h1, h2, h3').evaluateAll((all) => all.map((heading) => heading.tagName)),
      rooms: await page.locator('tbody td.blank').count(),
      lists: await page.locator('section.check li').count(),
    }));
    expect(seen.levels[0]).toBe('H1');
    expect(new Set(seen.levels.slice(1))).toEqual(new Set(['H2']));
    expect(seen.rooms).toBe(24);
    expect(seen.lists).toBeGreaterThan(3);
  });
});
