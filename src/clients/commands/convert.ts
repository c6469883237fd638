import { resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck convert NOTEBOOK [--to FILE]

Converts a literate notebook (NAME.lit.md) to NAME.ipynb, or the other way,
without losing anything but this: a literate notebook holds no outputs.

  --to FILE  where to write (default: beside the notebook)
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({ args, allowPositionals: true, options: { to: { type: 'string' } } });
  const [name, ...more] = positionals;
  if (name === undefined || more.length > 0) throw new WrongCall(`found ${positionals.length} notebooks; expected one`);
  const isLiterate = name.endsWith('.lit.md');
  if (!isLiterate && !name.endsWith('.ipynb'))
    throw new WrongCall(`found "${name}"; expected a *.lit.md or *.ipynb file`);
  const target = values.to ?? (isLiterate ? name.replace(/\.lit\.md$/, '.ipynb') : name.replace(/\.ipynb$/, '.lit.md'));

  const { readNotebook } = await import('../read-notebook.ts');
  const { toIpynb } = await import('../../notebook/ipynb.ts');
  const { printLitMd } = await import('../../notebook/lit-md.ts');
  const { writeWhole } = await import('../write-whole.ts');
  const shown = await readNotebook(resolve(io.cwd, name), name);
  await writeWhole(resolve(io.cwd, target), isLiterate ? toIpynb(shown) : printLitMd(shown.notebook));
  io.stderr(`Wrote ${target}\n`);
  return 0;
}
