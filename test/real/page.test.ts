import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { needs } from '../real-clients.ts';
import { lowContrast } from './contrast.ts';
import { launchChromium, openPage } from './open-page.ts';

const client = needs('chromium');

describe.skipIf(!client.found)('the pages of the demo shop in Chromium', () => {
  let folder = '';
  let browser: Browser;
  let models: string[] = [];

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'pages-'));
    const upneck = resolve('src/clients/upneck.mjs');
    execFileSync(process.execPath, [upneck, 'run', 'notebooks/house-standard.lit.md', '--out', folder], {
      stdio: 'pipe',
    });
    const { entries } = JSON.parse(readFileSync(join(folder, 'house-standard.json'), 'utf8')) as {
      entries: { model: string }[];
    };
    models = [...new Set(entries.map(({ model }) => model))];
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
  ): Promise<{ seen: T; faults: string[] }> => openPage(browser, join(folder, name), options, look);

  // #777777 on white is 4.48:1 and falls just short of the 4.5:1 of WCAG 2.2 (figure from memory).
  test('lowContrast finds text that is too pale, whatever it is drawn with', async () => {
    const page = await browser.newPage();
    await page.setContent(
      '<p style="color: #777">pale prose</p><p style="color: #000">black</p><svg><text y="20" fill="#777">pale label</text></svg>',
    );
    expect(await page.evaluate(lowContrast)).toEqual({ texts: 3, low: ['4.48: pale prose', '4.48: pale label'] });
    await page.close();
  });

  describe.each(['house-standard.html', 'bench-card.html'])('%s', (name) => {
    test.each(['light', 'dark'] as const)(
      'loads nothing beside itself, logs no error and has readable contrast in %s',
      async (colorScheme) => {
        const { seen, faults } = await open(name, { colorScheme }, async (page) => {
          // The folded code counts too.
          await page.evaluate(() => document.querySelectorAll('details').forEach((details) => (details.open = true)));
          return page.evaluate(lowContrast);
        });
        expect(faults).toEqual([]);
        expect(seen.texts).toBeGreaterThan(100);
        expect(seen.low).toEqual([]);
      },
    );

    test.each([1000, 400])('does not scroll sideways in a window %i px wide', async (width) => {
      const { seen } = await open(name, { width }, (page) =>
        page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth),
      );
      expect(seen).toBe(0);
    });

    test('has its headings in order, none skipped', async () => {
      const { seen } = await open(name, {}, (page) =>
        page.locator('h1, h2, h3, h4, h5, h6').evaluateAll((all) => all.map((heading) => Number(heading.tagName[1]))),
      );
      expect(seen[0]).toBe(1);
      for (const [index, level] of seen.entries()) expect(level).toBeLessThanOrEqual((seen[index - 1] ?? 0) + 1);
    });
  });

  test('house-standard.html names every figure for those who do not see it', async () => {
    const { seen } = await open('house-standard.html', {}, async (page) => {
      const drawn = await page.locator('main svg:not(svg svg), main img').count();
      // Names as Chromium itself computes them for a screen reader.
      const session = await page.context().newCDPSession(page);
      const { nodes } = await session.send('Accessibility.getFullAXTree');
      const names = nodes
        .filter(({ role, ignored }) => !ignored && ['image', 'img'].includes(String(role?.value)))
        .map((node) => String(node.name?.value ?? ''));
      return { drawn, names };
    });
    expect(seen.drawn).toBeGreaterThanOrEqual(5);
    expect(seen.names.length).toBeGreaterThanOrEqual(seen.drawn);
    expect(seen.names.filter((name) => !/\w+ \w+ \w+/.test(name))).toEqual([]);
  });

  test('bench-card.html prints one A4 page a model', async () => {
    const { seen: pdf } = await open('bench-card.html', {}, (page) => page.pdf({ preferCSSPageSize: true }));
    const text = pdf.toString('latin1');
    expect(text.match(/\/Type\s*\/Page\b(?!s)/g)).toHaveLength(models.length);
    // ISO 216: A4 is 210 mm by 297 mm, 595.28 by 841.89 points; Chromium rounds to whole pixels of 0.75 points.
    for (const [, width, height] of text.matchAll(/\/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]/g)) {
      expect(Math.abs(Number(width) - 595.28)).toBeLessThan(0.75);
      expect(Math.abs(Number(height) - 841.89)).toBeLessThan(0.75);
    }
  });

  test('bench-card.html has a sheet for every model of the standard', async () => {
    const { seen } = await open('bench-card.html', {}, (page) => page.locator('.card h1').allTextContents());
    expect(seen).toEqual(models);
  });
});
