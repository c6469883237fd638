/** A drawing for a page, a notebook or print, with the words and the numbers that stand for it. */
export interface Figure {
  readonly title: string;
  /** Alternative text: what is shown and what it says, in numbers. */
  readonly description: string;
  /** A whole SVG document; text and axes take the page's colour, the background is transparent. */
  readonly svg: string;
  /** The rows drawn, one table, for export (see `figureCsv`). */
  readonly data: readonly Readonly<Record<string, unknown>>[];
}

/** How a value shows itself in a notebook: see `src/kernel/mime.ts`. */
export const mimeSymbol: unique symbol = Symbol.for('upneck.mime') as never;

/** A {@link Figure} that a notebook shows as its drawing, and as its description where only text can be shown. */
export interface ShownFigure extends Figure {
  [mimeSymbol](): { readonly 'image/svg+xml': string; readonly 'text/plain': string };
}

/** Gives a figure its form in a notebook. */
export function shownFigure(figure: Figure): ShownFigure {
  return {
    ...figure,
    [mimeSymbol]: () => ({ 'image/svg+xml': figure.svg, 'text/plain': `${figure.title}. ${figure.description}` }),
  };
}
