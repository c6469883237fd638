import { strFromU8, unzipSync } from 'fflate';
import { SaxesParser } from 'saxes';

/** A score's text, and its name for messages: inside an archive that of the archive and of the file in it. */
export interface ScoreText {
  readonly text: string;
  readonly name: string;
}

/** A score is refused beyond this: a few orchestral hours have a tenth of it, and a crafted archive can claim any size. */
const mostBytes = 128 * 2 ** 20;

/** Whether bytes begin like a zip archive (APPNOTE 6.3, section 4.3.7: a local file header, or the end of an empty archive). */
export function isArchive(bytes: Uint8Array): boolean {
  return bytes[0] === 0x50 && bytes[1] === 0x4b && (bytes[2] === 3 || bytes[2] === 5);
}

/**
 * The score in a MusicXML file, plain or compressed (.mxl). META-INF/container.xml names the score in an archive; nothing
 * else in it is unpacked.
 *
 * @param file name for messages
 * @throws {RangeError} where an archive is broken, names no score or holds too much, or the text's encoding does not hold
 * @see MusicXML 4.0, container and rootfile elements; the first rootfile is the score
 */
export function scoreText(bytes: Uint8Array, file: string): ScoreText {
  if (!isArchive(bytes)) return { text: decoded(bytes, file), name: file };
  const container = unpacked(bytes, containerPath, file);
  if (!container)
    throw new RangeError(
      `${file}: a zip archive without ${containerPath}, expected a compressed MusicXML score (.mxl). ` +
        'Export the score again, or give the .musicxml file that is in the archive',
    );
  const path = rootFile(decoded(container, `${file} (${containerPath})`), `${file} (${containerPath})`);
  const score = unpacked(bytes, path, file);
  if (!score)
    throw new RangeError(
      `${file}: ${containerPath} names "${path}", which is not in the archive. Export the score again`,
    );
  const name = `${file} (${path})`;
  return { text: decoded(score, name), name };
}

const containerPath = 'META-INF/container.xml';

/** One file of an archive, undefined where it is not there. No more is unpacked than the archive says the file has. */
function unpacked(bytes: Uint8Array, path: string, file: string): Uint8Array | undefined {
  let size = 0;
  let files: Record<string, Uint8Array>;
  try {
    files = unzipSync(bytes, {
      filter: ({ name, originalSize }) => {
        if (name === path) size = originalSize;
        return name === path && originalSize <= mostBytes;
      },
    });
  } catch (error) {
    throw new RangeError(
      `${file}: a broken zip archive (${(error as Error).message}), perhaps cut short. Copy or export the file again`,
      { cause: error },
    );
  }
  if (size > mostBytes) throw new RangeError(tooLarge(`${file} (${path})`, size));
  return files[path];
}

function tooLarge(name: string, size: number): string {
  const megabytes = (count: number): string => `${Math.round(count / 2 ** 20)} MB`;
  return (
    `${name}: ${megabytes(size)} when unpacked, expected at most ${megabytes(mostBytes)}. ` +
    'Export the part that is wanted alone'
  );
}

/** `full-path` of the first `<rootfile>` of a container. */
function rootFile(text: string, name: string): string {
  const parser = new SaxesParser({ xmlns: false });
  let path: string | undefined;
  parser.on('opentag', (tag) => {
    if (tag.name === 'rootfile') path ??= tag.attributes['full-path'];
  });
  parser.on('error', (error) => {
    throw new RangeError(
      `${name}: not well-formed XML (${error.message.replace(/^[\d:]+ /, '')}). Export the score again`,
    );
  });
  parser.write(text).close();
  if (path === undefined || path === '')
    throw new RangeError(`${name}: found no <rootfile full-path="...">, expected the score's name. Export it again`);
  return path;
}

/** XML bytes as text: by their byte order mark, else by the encoding that the declaration names, else UTF-8 (XML 1.0, appendix F). */
function decoded(bytes: Uint8Array, name: string): string {
  if (bytes.length > mostBytes) throw new RangeError(tooLarge(name, bytes.length));
  const start = strFromU8(bytes.subarray(0, 200), true);
  const [, named] = /^<\?xml[^>]*encoding\s*=\s*["']([\w.-]+)["']/.exec(start) ?? [];
  const encoding =
    bytes[0] === 0xfe && bytes[1] === 0xff
      ? 'utf-16be'
      : bytes[0] === 0xff && bytes[1] === 0xfe
        ? 'utf-16le'
        : start.startsWith('<\0')
          ? 'utf-16le'
          : start.startsWith('\0<')
            ? 'utf-16be'
            : (named ?? 'utf-8');
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(bytes);
  } catch (error) {
    throw new RangeError(`${name}: not text in the encoding ${encoding}. Export the score again, as UTF-8`, {
      cause: error,
    });
  }
}
