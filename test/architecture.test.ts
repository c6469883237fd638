import { readFileSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { expect, test } from 'vitest';

const domain = [
  'acoustics',
  'statistics',
  'logs',
  'sources',
  'trend',
  'policy',
  'bench',
  'control',
  'metrology',
  'figures',
];
/** Each folder of src/ and the folders it may import: only ever one that stands before it. */
const mayImport: Record<string, string[]> = {
  acoustics: [],
  statistics: [],
  logs: ['acoustics'],
  sources: ['acoustics', 'logs'],
  trend: domain.slice(0, 4),
  policy: domain.slice(0, 5),
  bench: domain.slice(0, 6),
  control: domain.slice(0, 7),
  metrology: ['acoustics', 'statistics', 'logs'],
  figures: domain.slice(0, 9),
  notebook: [],
  kernel: ['notebook'],
  clients: [...domain, 'notebook', 'kernel'],
};
const folders = readdirSync('src', { withFileTypes: true }).filter((entry) => entry.isDirectory());

test.each(folders.map((entry) => entry.name))('src/%s imports only folders before it', (folder) => {
  expect(mayImport, `give src/${folder} its place in the order`).toHaveProperty(folder);
  const files = readdirSync(`src/${folder}`, { recursive: true, encoding: 'utf8' });
  for (const file of files.filter((name) => name.endsWith('.ts'))) {
    const source = readFileSync(`src/${folder}/${file}`, 'utf8');
    for (const [, specifier] of source.matchAll(/(?:from |import\()'(\.[^']+)'/g)) {
      const target = join(folder, dirname(file), specifier!).split('/')[0];
      expect([folder, ...mayImport[folder]!], `${folder}/${file}`).toContain(target);
    }
    if (domain.includes(folder) && file !== 'read-text.ts')
      expect(source, `${folder}/${file} asks for its place, which src/kernel/imports.ts gives it wrongly`).not.toMatch(
        'import.meta',
      );
    if (domain.includes(folder) && folder !== 'sources')
      expect(source, `${folder}/${file} does I/O`).not.toMatch(/'node:(fs|net|http|child_process)/);
  }
});
