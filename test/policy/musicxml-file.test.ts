import { Buffer } from 'node:buffer';
import { zipSync } from 'fflate';
import { expect, test } from 'vitest';
import { readPlaying } from '../../src/policy/usage-files.ts';
import { divisions, note, partwise, pitched } from './musicxml-examples.ts';

// Made with Python 3.11's zipfile: mimetype (stored), META-INF/container.xml that names score.musicxml (both deflated), in which
// one note of 3 divisions at 2 a quarter note sounds on string 3 at fret 5: 3 / 2 = 1.5 quarter notes.
const archive = Buffer.from(
  'UEsDBBQAAAAAAAAAIVwuQhWCIgAAACIAAAAIAAAAbWltZXR5cGVhcHBsaWNhdGlvbi92bmQucmVjb3JkYXJlLm11c2ljeG1sUEsDBBQAAAAIAAAAIVwrIGQc' +
    'fgAAAK4AAAAWAAAATUVUQS1JTkYvY29udGFpbmVyLnhtbE2NMQ7DIBAEv4KujYCkSwG4ywviByA4JydhDgG2kt+HVHa3xeyMmT5rEjvWRpwt3NQVBObAkfLL' +
    'wvx8yDtMzgTO3VPG6kxl7gslbMcUy5aSLL6/LbTAFdW6NQrDDGLFSF72b0ELvpREwfeR0nuOquKAoz/xl/9HO6NPFX3Ef1BLAwQUAAAACAAAACFcVXIwCsYA' +
    'AACDAQAADgAAAHNjb3JlLm11c2ljeG1sVVDRboMwDPwVxHvrde3ejKWqP7BfCMEbliAgx7DfX1JSQZ98ti/ny2H0k/Jpdmp/ErlaWaNMoalv54+aMM9Pg0Qj' +
    '3ImVdE39fXmtgxuZ7gh7g7CTqSw2kffnI7u4KFdhGVvWps4zZ6bSLsaRsJNVsptInwh7g3AkhcnSxVnM98mk8UyPdD9XnLy5lemGUFDysvG6RZ0lMbom4RfO' +
    'Uk+UVI19H8S7IWuqhN/MLAh/lI2+EJ4V4cCFgwRszqD8sgTxFk6OnP4BUEsBAhQAFAAAAAAAAAAhXC5CFYIiAAAAIgAAAAgAAAAAAAAAAAAAAIABAAAAAG1p' +
    'bWV0eXBlUEsBAhQAFAAAAAgAAAAhXCsgZBx+AAAArgAAABYAAAAAAAAAAAAAAIABSAAAAE1FVEEtSU5GL2NvbnRhaW5lci54bWxQSwECFAAUAAAACAAAACFc' +
    'VXIwCsYAAACDAQAADgAAAAAAAAAAAAAAgAH6AAAAc2NvcmUubXVzaWN4bWxQSwUGAAAAAAMAAwC2AAAA7AEAAAAA',
  'base64',
);

const containerOf = (path: string): string =>
  `<?xml version="1.0"?><container><rootfiles><rootfile full-path="${path}"/><rootfile full-path="a.pdf" media-type="application/pdf"/></rootfiles></container>`;
const score = partwise({ Gitarre: [divisions(2) + note(pitched('C', 4, 3), 3, 5)] });
const zipped = (files: Readonly<Record<string, string>>): Uint8Array =>
  zipSync(Object.fromEntries(Object.entries(files).map(([name, text]) => [name, Buffer.from(text)])));

test('readPlaying finds the score in a compressed file by its container', () => {
  const { usage, notes, unit } = readPlaying(archive, 'song.mxl');
  expect(usage).toEqual(new Map([[3, new Map([[5, 1.5]])]]));
  expect({ notes, unit }).toEqual({ notes: 1, unit: 'quarter notes' });
});

test('readPlaying takes the first root file, in any folder, and tells a zip archive by its bytes', () => {
  const files = { 'META-INF/container.xml': containerOf('in/Stück.xml'), 'a.pdf': '%PDF', 'in/Stück.xml': score };
  expect(readPlaying(zipped(files), 'no-extension').usage).toEqual(new Map([[3, new Map([[5, 1.5]])]]));
});

// XML 1.0, appendix F: a byte order mark or the declaration tells the encoding.
test.each([
  ['UTF-8 with a byte order mark', Buffer.from(`\ufeff${score}`)],
  ['UTF-16 little-endian', Buffer.from(`\ufeff${score.replace('UTF-8', 'UTF-16')}`, 'utf16le')],
  ['UTF-16 big-endian', Buffer.from(`\ufeff${score.replace('UTF-8', 'UTF-16')}`, 'utf16le').swap16()],
  ['Latin-1', Buffer.from(score.replace('UTF-8', 'ISO-8859-1').replace('Gitarre', 'Größe'), 'latin1')],
])('readPlaying reads a score in %s', (_name, bytes) => {
  expect(readPlaying(bytes, 'song.xml').usage).toEqual(new Map([[3, new Map([[5, 1.5]])]]));
});

/** The archive with another unpacked size of its score, in the central directory (APPNOTE 6.3, section 4.3.12: 22 bytes before the name). */
function claiming(size: number): Buffer {
  const forged = Buffer.from(archive);
  forged.writeUInt32LE(size, forged.lastIndexOf('score.musicxml') - 22);
  return forged;
}

test.each<[string, Uint8Array, string]>([
  [
    'an archive without a container',
    zipped({ 'song.musicxml': score }),
    's.mxl: a zip archive without META-INF/container.xml, expected a compressed MusicXML score (.mxl). Export the score again, or give the .musicxml file that is in the archive',
  ],
  [
    'a container that names nothing',
    zipped({ 'META-INF/container.xml': '<container><rootfiles/></container>' }),
    's.mxl (META-INF/container.xml): found no <rootfile full-path="...">, expected the score\'s name. Export it again',
  ],
  [
    'a container that names what is not there',
    zipped({ 'META-INF/container.xml': containerOf('song.xml') }),
    's.mxl: META-INF/container.xml names "song.xml", which is not in the archive. Export the score again',
  ],
  [
    'a container that is no XML',
    zipped({ 'META-INF/container.xml': '<container>' }),
    's.mxl (META-INF/container.xml): not well-formed XML (unclosed tag: container). Export the score again',
  ],
  [
    'an archive cut short',
    archive.subarray(0, 500),
    's.mxl: a broken zip archive (invalid zip data), perhaps cut short. Copy or export the file again',
  ],
  [
    'an archive that unpacks to gigabytes',
    claiming(4e9),
    's.mxl (score.musicxml): 3815 MB when unpacked, expected at most 128 MB. Export the part that is wanted alone',
  ],
  [
    'an archive that unpacks to more than it says',
    claiming(100),
    's.mxl (score.musicxml):1: not well-formed XML (unclosed tag: part-list); expected a whole MusicXML score. Export it again from the program it was written in',
  ],
  [
    'text under the name of an archive',
    Buffer.from('string,fret,count\n1,1,1\n'),
    's.mxl: neither XML nor a zip archive, expected a MusicXML score. Export it again; a profile with string, fret, count is named *.csv',
  ],
  [
    'an empty file',
    Buffer.alloc(0),
    's.mxl: an empty file, expected a MusicXML score. Export it again; a profile with string, fret, count is named *.csv',
  ],
  [
    'a score that is not in the encoding it names',
    Buffer.from(score.replace('Gitarre', 'Größe'), 'latin1'),
    's.mxl: not text in the encoding UTF-8. Export the score again, as UTF-8',
  ],
])('readPlaying refuses %s', (_name, bytes, message) => {
  expect(() => readPlaying(bytes, 's.mxl')).toThrow(new RangeError(message));
});

test('readPlaying refuses a score all of whose notes are on open strings', () => {
  const open = partwise({ A: [divisions(1) + note(pitched('E', 4, 1), 1, 0)] });
  expect(() => readPlaying(Buffer.from(open), 's.xml')).toThrow(
    's.xml: the counts of fretted notes sum to 0, expected at least one above 0',
  );
});
