import type { MimeBundle } from '../../notebook/cell.ts';
import type { CellFailure, Output } from '../../notebook/output.ts';

/** One form of an output: vscode.NotebookCellOutputItem. */
export interface Item {
  readonly mime: string;
  readonly data: Uint8Array;
}

/** Types under which the editor itself keeps printed text and errors. */
const streams = { stdout: 'application/vnd.code.notebook.stdout', stderr: 'application/vnd.code.notebook.stderr' };
const errorType = 'application/vnd.code.notebook.error';

/** The editor would rather show JSON than a page or a picture; under this type it keeps it for files only. */
const jsonType = 'application/json';
const quietJsonType = 'application/vnd.upneck.quiet+json';

/** A bundle in the editor's terms: bytes of every type, pictures and sound no longer in Base64. */
export function toItems(bundle: MimeBundle): Item[] {
  const isQuiet = Object.keys(bundle).some((mime) => /^(text\/(html|markdown)$|image\/)/.test(mime));
  return Object.entries(bundle).map(([type, content]) => {
    const mime = type === jsonType && isQuiet ? quietJsonType : type;
    if (typeof content !== 'string') return { mime, data: Buffer.from(JSON.stringify(content)) };
    return { mime, data: Buffer.from(content, isBinary(mime) ? 'base64' : 'utf8') };
  });
}

/** An output the editor shows, for a page or a file; `metadata` is that of the output, under which errors keep theirs. */
export function fromItems(items: readonly Item[], metadata: Readonly<Record<string, unknown>> = {}): Output {
  const text = (mime: string): string =>
    items
      .filter((item) => item.mime === mime)
      .map(({ data }) => Buffer.from(data).toString())
      .join('');
  for (const name of ['stdout', 'stderr'] as const)
    if (items.some(({ mime }) => mime === streams[name])) return { type: 'stream', name, text: text(streams[name]) };
  if (items.some(({ mime }) => mime === errorType)) return { type: 'error', error: metadata.failure as CellFailure };
  const bundle = Object.fromEntries(
    items.map(({ mime, data }) => [mime === quietJsonType ? jsonType : mime, content(mime, data)]),
  );
  return metadata.isValue === true ? { type: 'value', bundle } : { type: 'display', bundle };
}

function content(mime: string, data: Uint8Array): unknown {
  const bytes = Buffer.from(data);
  if (/^application\/(.*\+)?json$/.test(mime)) return JSON.parse(bytes.toString()) as unknown;
  return bytes.toString(isBinary(mime) ? 'base64' : 'utf8');
}

function isBinary(mime: string): boolean {
  return /^(image|audio|video)\//.test(mime) && mime !== 'image/svg+xml';
}
