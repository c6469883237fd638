import type { Cell, MimeBundle, Notebook } from './cell.ts';
import { escapeHtml, linkDefinitions, markdownHtml } from './markdown.ts';
import type { CellFailure, Output } from './output.ts';

export interface PageOptions {
  /** Style sheet of the page. */
  readonly css: string;
  /** Title when the front matter has none. */
  readonly title: string;
  /** Outputs by cell id. */
  readonly outputs: ReadonlyMap<string, readonly Output[]>;
  /** A local picture as a data: URL, or null when there is none; by default pictures are left as they are. */
  readonly embed?: (url: string) => string | null;
}

/** Nothing is loaded and nothing runs: pictures and sound are in the page, scripts from data stay dead. */
const policy = [
  "default-src 'none'",
  "style-src 'unsafe-inline'",
  'img-src data:',
  'media-src data:',
  'font-src data:',
  "form-action 'none'",
  "base-uri 'none'",
].join('; ');

/**
 * A notebook as one self-contained HTML page: prose, outputs, and the code folded away. Cells tagged `hidden` show
 * their outputs only.
 */
export function printPage(notebook: Notebook, { css, title: fallback, outputs, embed }: PageOptions): string {
  const { metadata, cells } = notebook;
  const title = typeof metadata.title === 'string' ? metadata.title : fallback;
  const language = typeof metadata.lang === 'string' ? metadata.lang : 'en';
  const definitions = linkDefinitions(cells);
  const hasHeading =
    cells
      .find((cell) => cell.kind !== 'raw')
      ?.source.trimStart()
      .startsWith('# ') ?? false;
  const body = cells.map((cell) => {
    if (cell.kind === 'markdown')
      return `<section class="prose">\n${prose(cell.source + definitions, embed)}\n</section>`;
    return cell.kind === 'code' ? codeCell(cell, outputs.get(cell.id) ?? []) : '';
  });
  return `<!doctype html>
<html lang="${escapeHtml(language)}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="color-scheme" content="light dark">
<title>${escapeHtml(title)}</title>
<style>
${css.replaceAll('</', '<\\/')}
</style>
</head>
<body>
<main>
${hasHeading ? '' : `<h1>${escapeHtml(title)}</h1>\n`}${body.filter((part) => part !== '').join('\n')}
</main>
</body>
</html>
`;
}

function prose(markdown: string, embed: PageOptions['embed']): string {
  const html = markdownHtml(markdown).replaceAll('<th', '<th scope="col"').replaceAll('<th scope="col"ead', '<thead');
  if (!embed) return html;
  return html.replace(/<img src="([^"]*)"/g, (whole, url: string) => {
    const data = url.startsWith('data:') ? url : embed(unescapeUrl(url));
    return data === null ? whole : `<img src="${escapeHtml(data)}"`;
  });
}

function unescapeUrl(url: string): string {
  return decodeURI(url.replaceAll('&amp;', '&').replaceAll('&quot;', '"'));
}

function codeCell(cell: Cell, outputs: readonly Output[]): string {
  const isHidden = cell.tags.includes('hidden');
  const code = isHidden
    ? ''
    : `<details class="code"><summary>Show the code</summary>\n<pre><code>${escapeHtml(cell.source)}</code></pre></details>\n`;
  const shown = outputs.map((output) => outputHtml(output)).join('\n');
  if (code === '' && shown === '') return '';
  const tags = cell.tags.map((tag) => ` tag-${tag.replace(/[^\w-]/g, '-')}`).join('');
  return `<section class="cell${escapeHtml(tags)}" id="${escapeHtml(cell.id)}">\n${shown}${shown === '' ? '' : '\n'}${code}</section>`;
}

function outputHtml(output: Output): string {
  switch (output.type) {
    case 'display':
    case 'value':
      return bundleHtml(output.bundle);
    case 'stream':
      return `<pre class="printed ${output.name}">${escapeHtml(output.text)}</pre>`;
    case 'error':
      return failureHtml(output.error);
  }
}

/** The richest form a page can hold. */
function bundleHtml(bundle: MimeBundle): string {
  const text = (type: string): string | null => {
    const content = bundle[type];
    return typeof content === 'string' ? content : null;
  };
  const plain = text('text/plain') ?? '';
  const html = text('text/html');
  if (html !== null) return `<div class="shown wide">${html}</div>`;
  const svg = text('image/svg+xml');
  if (svg !== null) return `<figure class="shown wide">${labelled(svg, plain)}</figure>`;
  for (const type of ['image/png', 'image/jpeg', 'image/gif', 'image/webp']) {
    const data = text(type);
    if (data !== null)
      return `<figure class="shown wide"><img src="data:${type};base64,${escapeHtml(data.replace(/\s/g, ''))}" alt="${escapeHtml(plain)}"></figure>`;
  }
  const wav = text('audio/wav');
  if (wav !== null)
    return `<figure class="shown"><audio controls src="data:audio/wav;base64,${escapeHtml(wav)}"></audio><figcaption>${escapeHtml(plain)}</figcaption></figure>`;
  const markdown = text('text/markdown');
  if (markdown !== null) return `<div class="shown prose">${markdownHtml(markdown)}</div>`;
  return plain === '' ? '' : `<pre class="shown value">${escapeHtml(plain)}</pre>`;
}

/** A figure with a name for those who do not see it. */
function labelled(svg: string, label: string): string {
  const markup = svg.replace(/^[^]*?(?=<svg)/, '');
  const tag = /^<svg[^>]*>/.exec(markup)?.[0] ?? '';
  if (/\srole=|\saria-label/.test(tag)) return markup;
  return markup.replace('<svg', `<svg role="img" aria-label="${escapeHtml(label || 'figure')}"`);
}

function failureHtml({ name, message, at, sourceLine, stack }: CellFailure): string {
  const place = at ? `<p>Line ${at.line}, column ${at.column} of the cell "${escapeHtml(at.cell)}":</p>` : '';
  const line = sourceLine === '' ? '' : `<pre><code>${escapeHtml(sourceLine)}</code></pre>`;
  const frames =
    stack.length > 1
      ? `<details><summary>Show how it got there</summary><pre>${escapeHtml(stack.join('\n'))}</pre></details>`
      : '';
  return `<div class="failure" role="alert"><p><strong>This cell failed.</strong> ${escapeHtml(`${name}: ${message}`)}</p>${place}${line}${frames}</div>`;
}
