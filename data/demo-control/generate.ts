import { readFileSync, renameSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseStandard } from '../../src/policy/standard-json.ts';
import { defaultSeed, makeYear } from './make-year.ts';

// Writes the logs and truth.json anew, by the standard that lies beside them; an interrupted run leaves the old files whole.
const place = (name: string): string => fileURLToPath(new URL(name, import.meta.url));
const standard = parseStandard(readFileSync(place('house-standard.json'), 'utf8'), 'house-standard.json');
const { files, truth } = makeYear(defaultSeed, standard);
for (const [name, text] of Object.entries({ ...files, 'truth.json': `${JSON.stringify(truth, null, 2)}\n` })) {
  writeFileSync(`${place(name)}.part`, text);
  renameSync(`${place(name)}.part`, place(name));
  console.log(place(name));
}
