import type { Worksheet } from './worksheet.ts';

/** Characters of an instrument's name that its file name keeps: with four bytes each they stay under the 255 that disks take. */
const mostLetters = 40;

/** A file name for each worksheet: letters, digits and - . _ of the instrument's name; a number where two would be one. */
export function worksheetFileNames(sheets: readonly Worksheet[]): string[] {
  const taken = new Set<string>();
  return sheets.map(({ instrument }) => {
    const plain = [...instrument.replace(/[^\p{L}\p{N}._-]+/gu, '-')].slice(0, mostLetters).join('');
    let name = `worksheet-${plain}.html`;
    for (let number = 2; taken.has(name.toLowerCase()); number++) name = `worksheet-${plain}-${number}.html`;
    taken.add(name.toLowerCase());
    return name;
  });
}
