/** One value in several forms: MIME type to content; text as a string, JSON as a value, binary data in Base64. */
export type MimeBundle = Readonly<Record<string, unknown>>;

/** One piece of a notebook: prose, or a program. */
export interface Cell {
  readonly kind: 'markdown' | 'code' | 'raw';
  /** Unique in its notebook; letters, digits, - and _, at most 64 of them, as nbformat 4.5 asks. */
  readonly id: string;
  /** Lines end in \n, whatever the file has. */
  readonly source: string;
  readonly tags: readonly string[];
  /** Anything else a file says about the cell, kept as it is. */
  readonly metadata: Readonly<Record<string, unknown>>;
  /** 1-based line of the file on which the source starts; absent for a cell that is in no file yet. */
  readonly line?: number;
  /** How the file wrote the cell; see lit-md.ts. */
  readonly layout?: CellLayout;
}

/** The exact text a cell was read from, so that what nobody changed is written back byte for byte. */
export interface CellLayout {
  /** Blank lines before the cell. */
  readonly before: string;
  readonly text: string;
  /** What the text says; a cell that says something else is written anew. */
  readonly key: string;
}

export interface Notebook {
  /** The YAML front matter, or the notebook metadata of an .ipynb file. */
  readonly metadata: Readonly<Record<string, unknown>>;
  readonly cells: readonly Cell[];
  readonly layout?: NotebookLayout;
}

export interface NotebookLayout {
  /** Byte order mark and front matter. */
  readonly head: string;
  readonly key: string;
  /** What follows the last cell. */
  readonly tail: string;
  readonly newline: '\n' | '\r\n';
}

/** Where something stands in a cell: 1-based line and column of the author's source. */
export interface CellPlace {
  readonly cell: string;
  readonly line: number;
  readonly column: number;
}
