import { plot, type PlotOptions } from '@observablehq/plot';
import { parseHTML } from 'linkedom';
import { charactersIn, wrap } from './label.ts';

/** Width of every figure in pixels: 16 cm in print make a pixel a quarter of a millimetre. */
export const figureWidth = 640;
/** Size of text in pixels: of titles, of all else. */
const titleSize = 15;
const textSize = 12;
/** Space between neighbouring panels, in pixels. */
const gap = 16;

/** One coordinate system of a figure. */
export interface Panel {
  readonly height: number;
  readonly options: PlotOptions;
}

/** What a figure is put together from. */
export interface Sheet {
  readonly title: string;
  readonly description: string;
  /** How to read the marks; stands under the title. */
  readonly caption: string;
  /** Names of the axes with their units, the upright one above the panels; an arrow shows where more lies, if it does. */
  readonly yLabel?: string;
  readonly xLabel: string;
  /** Panels in reading order, laid out in rows of `columns`. */
  readonly panels: readonly Panel[];
  readonly columns: number;
}

const { document } = parseHTML('<!doctype html><html><body></body></html>');
const svgNamespace = 'http://www.w3.org/2000/svg';

/** Width of one panel in pixels when `columns` stand side by side. */
export function panelWidth(columns: number): number {
  return Math.floor((figureWidth - gap * (columns - 1)) / columns);
}

/** Draws a sheet as one SVG document: title and description for screen readers, `currentColor` ink, no background, no ids. */
export function drawSheet({ title, description, caption, yLabel, xLabel, panels, columns }: Sheet): string {
  const svg = element('svg', { xmlns: svgNamespace, role: 'img', fill: 'currentColor', 'font-size': textSize });
  for (const [name, text] of [
    ['title', title],
    ['desc', description],
  ] as const) {
    const words = element(name, {});
    words.textContent = drawable(text);
    svg.append(words);
  }
  let top = 0;
  const write = (text: string, size: number, attributes: Record<string, string | number>): void => {
    for (const line of wrap(text, charactersIn(figureWidth, size))) {
      top += Math.ceil(size * 1.35);
      const words = element('text', { x: 0, y: top - Math.ceil(size * 0.3), ...attributes });
      words.textContent = drawable(line);
      svg.append(words);
    }
  };
  write(title, titleSize, { 'font-size': titleSize, 'font-weight': 'bold' });
  top += 2;
  write(caption, textSize, {});
  top += 8;
  if (yLabel !== undefined) write(yLabel, textSize, {});
  const width = panelWidth(columns);
  for (let first = 0; first < panels.length; first += columns) {
    const row = panels.slice(first, first + columns);
    row.forEach((panel, column) => {
      svg.append(drawPanel(panel, { width, left: column * (width + gap), top }));
    });
    top += Math.max(...row.map(({ height }) => height)) + 4;
  }
  write(xLabel, textSize, { x: figureWidth, 'text-anchor': 'end' });
  const height = top + 6;
  const size = { width: figureWidth, height, viewBox: `0 0 ${figureWidth} ${height}` };
  for (const [name, value] of Object.entries(size)) svg.setAttribute(name, `${value}`);
  svg.setAttribute('font-family', 'system-ui, sans-serif');
  return svg.outerHTML;
}

interface Place {
  readonly width: number;
  readonly left: number;
  readonly top: number;
}

function drawPanel({ height, options }: Panel, { width, left, top }: Place): Element {
  const drawn = plot({ document: document, width, height, ...options });
  const group = element('g', { transform: `translate(${left},${top})`, 'text-anchor': 'middle' });
  for (const child of [...drawn.childNodes]) if (child.nodeName.toLowerCase() !== 'style') group.append(child);
  // A hundredth of a pixel is finer than any print, and half the bytes.
  for (const circle of group.querySelectorAll('circle'))
    for (const name of ['cx', 'cy'])
      circle.setAttribute(name, `${Number(Number(circle.getAttribute(name)).toFixed(2))}`);
  for (const text of group.querySelectorAll('text, tspan')) {
    // Text without elements inside: what is written, and only that, is made drawable.
    if (text.children.length === 0) text.textContent = drawable(text.textContent ?? '');
  }
  return group;
}

function element(name: string, attributes: Record<string, string | number>): Element {
  const made = document.createElementNS(svgNamespace, name) as unknown as Element;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, `${value}`);
  return made;
}

/** Leaves out the control characters that no XML document may hold (XML 1.0, production 2). */
function drawable(text: string): string {
  // eslint-disable-next-line no-control-regex
  return text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, '').replace(/\p{Surrogate}/gu, '');
}
