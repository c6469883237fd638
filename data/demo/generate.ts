import { mkdirSync, renameSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { defaultSeed, makeShop } from './make-shop.ts';
import { truthJson } from './truth-json.ts';

const usage = `node --import tsx data/demo/generate.ts [--seed N] [--out DIR]

Writes the logs, models.csv and truth.json of an invented shop.
  --seed N   whole number from 1 to ${2 ** 32 - 1}; ${defaultSeed} when left out, the committed shop
  --out DIR  folder to write to, made when missing; this script's own folder when left out`;

const { values } = parseArgs({
  options: { seed: { type: 'string' }, out: { type: 'string' }, help: { type: 'boolean' } },
});

if (values.help) {
  console.log(usage);
} else {
  const { files, truth } = makeShop(values.seed === undefined ? defaultSeed : Number(values.seed));
  const folder = values.out ?? dirname(fileURLToPath(import.meta.url));
  mkdirSync(folder, { recursive: true });
  for (const [name, content] of Object.entries({ ...files, 'truth.json': truthJson(truth) })) {
    // An interrupted run leaves the old file whole.
    writeFileSync(join(folder, `${name}.part`), content);
    renameSync(join(folder, `${name}.part`), join(folder, name));
  }
  const rows = truth.files.reduce((sum, file) => sum + file.rows, 0);
  console.log(`${truth.instruments.length} instruments, ${rows} rows in ${truth.files.length} logs: ${folder}`);
}
