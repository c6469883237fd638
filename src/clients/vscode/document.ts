import type { Cell, CellLayout, Notebook, NotebookLayout } from '../../notebook/cell.ts';

/** What the editor calls our notebooks, and the language of their cells; the manifest says the same. */
export const notebookType = 'upneck-notebook';
export const cellLanguage = 'upneck-cell';
/** Language of raw cells, which nothing runs. */
const rawLanguage = 'plaintext';

/** Numbers of vscode.NotebookCellKind. */
const markup = 1;
const code = 2;

/** A cell as the editor holds it: vscode.NotebookCellData. */
export interface EditorCell {
  kind: typeof markup | typeof code;
  value: string;
  languageId: string;
  metadata?: Record<string, unknown>;
}

/** A notebook as the editor holds it: vscode.NotebookData. */
export interface EditorNotebook {
  cells: EditorCell[];
  metadata?: Record<string, unknown>;
}

/** What an editor's cell carries of ours; a cell the person has just made carries nothing. */
interface Carried {
  readonly id?: string;
  readonly tags?: readonly string[];
  readonly metadata?: Record<string, unknown>;
  readonly layout?: CellLayout;
}

/** A notebook in the editor's terms. How the file is laid out travels along, so that saving changes nothing. */
export function toEditor({ cells, metadata, layout }: Notebook): EditorNotebook {
  return {
    cells: cells.map(({ kind, source, id, tags, metadata, layout }) => ({
      kind: kind === 'markdown' ? markup : code,
      value: source,
      languageId: kind === 'markdown' ? 'markdown' : kind === 'raw' ? rawLanguage : cellLanguage,
      metadata: { id, tags, metadata, ...(layout && { layout }) },
    })),
    metadata: { metadata, ...(layout && { layout }) },
  };
}

/** The notebook an editor holds. Copies of a cell lose its id, which stands once in a file; new cells are given one. */
export function fromEditor({ cells, metadata = {} }: EditorNotebook): Notebook {
  const carried = cells.map((cell) => (cell.metadata ?? {}) as Carried);
  const given = new Set(carried.map(({ id }) => id));
  const used = new Set<string>();
  let made = 0;
  const idOf = ({ id }: Carried): string => {
    let own = id;
    while (own === undefined || used.has(own)) {
      do made += 1;
      while (given.has(`cell-${made}`));
      own = `cell-${made}`;
    }
    used.add(own);
    return own;
  };
  const { metadata: front, layout } = metadata as { metadata?: Record<string, unknown>; layout?: NotebookLayout };
  return {
    metadata: front ?? {},
    cells: cells.map(({ kind, value, languageId }, index): Cell => {
      const { tags, metadata, layout } = carried[index]!;
      return {
        kind: kind === markup ? 'markdown' : languageId === rawLanguage ? 'raw' : 'code',
        id: idOf(carried[index]!),
        source: value.replace(/\r\n?/g, '\n'),
        tags: tags ?? [],
        metadata: metadata ?? {},
        ...(layout && { layout }),
      };
    }),
    ...(layout && { layout }),
  };
}
