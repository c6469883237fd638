import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck kernel install [--prefix DIR]
       upneck kernel run CONNECTION_FILE

Lets clients of the Jupyter protocol run our notebooks.

  install         writes the kernelspec "upneck" for you
    --prefix DIR  for all who use the prefix DIR, such as /usr/local, instead
  run             serves one session; Jupyter calls this itself
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({ args, allowPositionals: true, options: { prefix: { type: 'string' } } });
  const [action, file] = positionals;
  if (action === 'install' && positionals.length === 1) return install(values.prefix, io);
  if (action === 'run' && file !== undefined) return serveConnection(resolve(io.cwd, file), io);
  throw new WrongCall(`found "${positionals.join(' ')}"; expected install, or run with a connection file`);
}

async function install(prefix: string | undefined, io: Io): Promise<number> {
  const { writeWhole } = await import('../write-whole.ts');
  const folder = prefix === undefined ? userFolder() : join(resolve(io.cwd, prefix), 'share', 'jupyter');
  const path = join(folder, 'kernels', 'upneck', 'kernel.json');
  const launcher = fileURLToPath(new URL('../upneck.mjs', import.meta.url));
  const spec = {
    argv: [process.execPath, launcher, 'kernel', 'run', '{connection_file}'],
    display_name: 'Upneck',
    language: 'typescript',
    interrupt_mode: 'message',
    metadata: { debugger: false },
  };
  await writeWhole(path, `${JSON.stringify(spec, null, 2)}\n`);
  io.stderr(`Wrote ${path}\n`);
  return 0;
}

/** Where Jupyter looks for a person's own kernels, by platform. */
function userFolder(): string {
  const own = process.env.JUPYTER_DATA_DIR;
  if (own) return own;
  if (process.platform === 'darwin') return join(homedir(), 'Library', 'Jupyter');
  if (process.platform === 'win32') return join(process.env.APPDATA ?? homedir(), 'jupyter');
  return join(process.env.XDG_DATA_HOME ?? join(homedir(), '.local', 'share'), 'jupyter');
}

async function serveConnection(path: string, io: Io): Promise<number> {
  const { readFile } = await import('node:fs/promises');
  const { serve } = await import('../jupyter/kernel.ts');
  const text = await readFile(path, 'utf8').catch(() => {
    throw new WrongCall(`there is no connection file "${path}"`);
  });
  await serve(JSON.parse(text) as import('../jupyter/channels.ts').Connection, io.cwd);
  return 0;
}
