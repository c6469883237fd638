import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { benchCard } from '../../src/policy/bench-card.ts';
import { judge } from '../../src/policy/verdict.ts';
import { readShared } from '../../src/sources/read-text.ts';
import { standardOf } from '../bench-worksheets/bench-standard.ts';
import { needs } from '../real-clients.ts';
import { launchChromium } from './open-page.ts';

const client = needs('chromium');

/** The wordiest advice there is: a model that nobody has read. */
const unread = judge(
  {
    ...{ share: 0.6, low: 0.5, high: 0.7, fineLow: 0.3, fineHigh: 0.9 },
    ...{ clipped: 'no', cost: 0.5, regret: 0 },
  },
  { twelfthExact: 0.55, seventeenthExact: 0.55 },
  { instruments: 0, fromOthers: 2 },
);

describe.skipIf(!client.found)('the bench card in Chromium', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launchChromium(client.path);
  }, 240_000);
  afterAll(async () => {
    await browser?.close();
  });

  test.each([
    ['six strings', 'Larch 6', 6],
    ['twelve strings', 'Larch 12', 12],
    ['a name of 190 letters', 'A very long name, '.repeat(11).slice(0, 190), 7],
    ['a word of 190 letters and twelve strings', 'N'.repeat(190), 12],
  ])('prints a model that nobody has read on one page: %s', async (_, model, strings) => {
    const standard = standardOf([{ model, rises: Array.from({ length: strings }, () => 3) }]);
    const entries = standard.entries.map((entry) => ({ ...entry, ...unread, instruments: 0 }));
    const css = (await readShared('page.css')).text;
    const page = await browser.newPage();
    await page.setContent(benchCard({ ...standard, entries }, [], css));
    const pdf = await page.pdf({ preferCSSPageSize: true });
    expect(pdf.toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g)).toHaveLength(1);
    await page.setViewportSize({ width: 400, height: 900 });
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    expect(over).toBe(0);
    await page.close();
  });
});
