import { pathToFileURL } from 'node:url';
import { chromium, type Browser, type Page } from 'playwright-core';

/** Starts Chromium without anything that asks the network by itself. */
export function launchChromium(executablePath: string): Promise<Browser> {
  return chromium.launch({
    executablePath,
    args: '--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking --disable-component-update --disable-sync'.split(
      ' ',
    ),
  });
}

/** Opens a file and looks at it; `faults` collects what the browser complains of and every request but the page's own. */
export async function openPage<T>(
  browser: Browser,
  file: string,
  { width = 1000, colorScheme = 'light' }: { readonly width?: number; readonly colorScheme?: 'light' | 'dark' },
  look: (page: Page) => Promise<T>,
): Promise<{ seen: T; faults: string[] }> {
  const own = pathToFileURL(file).href;
  const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme });
  try {
    const page = await context.newPage();
    const faults: string[] = [];
    page.on('console', (message) => {
      if (['error', 'warning'].includes(message.type())) faults.push(message.text());
    });
    page.on('pageerror', (error) => faults.push(error.message));
    page.on('request', (request) => {
      const url = request.url();
      if (url !== own && !url.startsWith('data:')) faults.push(`asked for ${url}`);
    });
    await page.goto(own, { waitUntil: 'load' });
    return { seen: await look(page), faults };
  } finally {
    await context.close();
  }
}
