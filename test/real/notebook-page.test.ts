import { execFileSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { needs } from '../real-clients.ts';
import { launchChromium } from './open-page.ts';

const client = needs('chromium');
const folder = mkdtempSync(join(tmpdir(), 'upneck-browser-'));
const evil = '<img src=x onerror="document.title=1"><script>document.title=2</script>';
/** Contrast of two CSS colours: WCAG 2.2, definitions of relative luminance and contrast ratio. */
function contrast(one: string, two: string): number {
  const luminance = (colour: string): number => {
    const parts = colour
      .match(/\d+(\.\d+)?/g)!
      .slice(0, 3)
      .map((part) => Number(part) / 255);
    const [r, g, b] = parts.map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!;
  };
  const [light, dark] = [luminance(one), luminance(two)].sort((a, b) => b - a);
  return (light! + 0.05) / (dark! + 0.05);
}

describe.skipIf(!client.found)('the page of a notebook in Chromium', () => {
  let browser: Browser;

  beforeAll(async () => {
    writeFileSync(
      join(folder, 'a.lit.md'),
      `---\ntitle: A question\n---\nProse.\n\n| ${'wide head | '.repeat(12)}\n|${'---|'.repeat(12)}\n| ${'a cell | '.repeat(12)}\n\n## Part\n\n\`\`\`ts\nimport { table } from 'arquero';\nconst name = ${JSON.stringify(evil)};\ndisplay(table({ [name]: [name] }));\ndisplay(mime.html(name));\ndisplay(mime.svg('<svg viewBox="0 0 10 10"><text y="9">a</text><script>document.title=3</script></svg>', 'a curve'));\ndisplay(mime.html('<img src="https://example.org/x.png">'));\nname\n\`\`\`\n`,
    );
    execFileSync(process.execPath, [resolve('src/clients/upneck.mjs'), 'run', 'a.lit.md'], {
      cwd: folder,
      stdio: 'pipe',
    });
    browser = await launchChromium(client.path);
  });

  afterAll(() => browser?.close());

  test('a page runs nothing from data and loads nothing, even from HTML a cell shows as such', async () => {
    const page = await browser.newPage();
    const failed: (string | undefined)[] = [];
    const finished: string[] = [];
    page.on('requestfinished', (request) => finished.push(request.url()));
    page.on('requestfailed', (request) => failed.push(request.failure()?.errorText));
    await page.goto(`file://${folder}/out/a.html`);
    await page.waitForTimeout(300);
    expect(await page.title()).toBe('A question');
    expect(finished.filter((url) => !url.startsWith('file:'))).toEqual([]);
    // The browser itself refuses, before it looks for a network: the remote picture, and `src=x`.
    expect(failed).toEqual(['csp', 'csp']);
    expect(await page.locator('.cell td').first().textContent()).toBe(evil);
  });

  test('a page can be read by those who do not see it', async () => {
    const page = await browser.newPage();
    await page.goto(`file://${folder}/out/a.html`);
    expect(await page.getByRole('heading', { level: 1 }).allTextContents()).toEqual(['A question']);
    expect(await page.getByRole('img', { name: 'a curve' }).count()).toBe(1);
    expect(await page.getByRole('table', { name: '1 row' }).count()).toBe(1);
    expect(await page.locator('html').getAttribute('lang')).toBe('en');
  });

  // WCAG 2.2, success criterion 1.4.6 (enhanced): at least 7 to 1.
  test.each(['light', 'dark'] as const)('a page in the %s has contrast for all its text', async (colorScheme) => {
    const page = await browser.newPage({ colorScheme });
    await page.goto(`file://${folder}/out/a.html`);
    const style = (selector: string, property: string): Promise<string> =>
      page
        .locator(selector)
        .first()
        .evaluate((element, name) => getComputedStyle(element).getPropertyValue(name), property);
    const paper = await style('html', 'background-color');
    for (const selector of ['p', 'h1', 'summary', 'caption', 'td'])
      expect(contrast(await style(selector, 'color'), paper), selector).toBeGreaterThan(7);
    expect(contrast(await style('pre.value', 'color'), await style('pre.value', 'background-color'))).toBeGreaterThan(
      7,
    );
  });

  test('a page unfolds its code with the keyboard, and prints without it', async () => {
    const page = await browser.newPage();
    await page.goto(`file://${folder}/out/a.html`);
    expect(await page.getByText('import { table }').isVisible()).toBe(false);
    await page.locator('summary').focus();
    await page.keyboard.press('Enter');
    expect(await page.getByText('import { table }').isVisible()).toBe(true);
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByText('import { table }').isVisible()).toBe(false);
  });

  test('a page fits a phone', async () => {
    const page = await browser.newPage({ viewport: { width: 360, height: 700 } });
    await page.goto(`file://${folder}/out/a.html`);
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360);
    const table = page.locator('.prose table');
    const past = (): Promise<number> => table.evaluate((one) => one.scrollWidth - one.clientWidth);
    expect(await past()).toBeGreaterThan(100);
    // WCAG 2.2, success criterion 1.3.1: it is a table still, although it scrolls.
    expect(await page.getByRole('columnheader', { name: 'wide head' }).count()).toBe(12);
    await page.emulateMedia({ media: 'print' });
    expect(await table.evaluate((one) => getComputedStyle(one).display)).toBe('table');
  });
});
