import { DOMParser } from 'linkedom';
import type { Figure } from '../../src/figures/figure.ts';

/** The root of a figure's SVG, parsed. */
export function parsed(figure: Figure): Element {
  return new DOMParser().parseFromString(figure.svg, 'image/svg+xml').documentElement as unknown as Element;
}

/** Elements that a selector finds in a figure. */
export function all(figure: Figure, selector: string): Element[] {
  return [...parsed(figure).querySelectorAll(selector)];
}

/** Every piece of text that the figure writes. */
export function texts(figure: Figure): string[] {
  return all(figure, 'text').map((text) => text.textContent ?? '');
}

/** The points of a path made of straight lines. */
export function pathPoints(path: Element): [number, number][] {
  return [...path.getAttribute('d')!.matchAll(/[ML](-?[\d.]+),(-?[\d.]+)/g)].map(([, x, y]) => [Number(x), Number(y)]);
}

/** Where a mark was moved to: the numbers of `translate(x,y)`. */
export function placed(mark: Element): [number, number] {
  const [, x, y] = /translate\((-?[\d.]+),(-?[\d.]+)\)/.exec(mark.getAttribute('transform') ?? '')!;
  return [Number(x), Number(y)];
}

/** Rows of a figure's data whose `kind` is the one given. */
export function rowsOf(figure: Figure, kind: string): Readonly<Record<string, unknown>>[] {
  return figure.data.filter((row) => row.kind === kind);
}
