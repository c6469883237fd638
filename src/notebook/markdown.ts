import { fromMarkdown } from 'mdast-util-from-markdown';
import { micromark } from 'micromark';
import { gfmTable, gfmTableHtml } from 'micromark-extension-gfm-table';
import type { Cell } from './cell.ts';

/** Prose as HTML. HTML in the prose stays text; links with dangerous schemes lose them. */
export function markdownHtml(markdown: string): string {
  return micromark(markdown, { extensions: [gfmTable()], htmlExtensions: [gfmTableHtml()] });
}

/** Link definitions of all prose: a cell may refer to one that another cell holds. */
export function linkDefinitions(cells: readonly Cell[]): string {
  const prose = cells.filter((cell) => cell.kind === 'markdown' && cell.source.includes(']:'));
  const texts = prose.flatMap(({ source }) =>
    fromMarkdown(source).children.flatMap(({ type, position }) =>
      type === 'definition' ? [source.slice(position!.start.offset, position!.end.offset)] : [],
    ),
  );
  return texts.map((text) => `\n\n${text}`).join('');
}

/** Text made safe to stand in HTML, in an element or a quoted attribute. */
export function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}
