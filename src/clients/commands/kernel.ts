import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck kernel install [--user | --sys-prefix | --prefix DIR]
                             [--name NAME] [--display-name TEXT]
       upneck kernel run CONNECTION_FILE

Lets clients of the Jupyter protocol run our notebooks.

  install         writes a kernelspec
    --user               for you (default)
    --sys-prefix         for the Python environment that is active
    --prefix DIR         for all who use the prefix DIR, such as /usr/local
    --name NAME          under another name than "upneck": letters a to z,
                         digits, - . and _
    --display-name TEXT  what clients call it (default: Upneck)
  run             serves one session; Jupyter calls this itself
`;

const options = {
  user: { type: 'boolean' },
  'sys-prefix': { type: 'boolean' },
  prefix: { type: 'string' },
  name: { type: 'string', default: 'upneck' },
  'display-name': { type: 'string', default: 'Upneck' },
} as const;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({ args, allowPositionals: true, options });
  const [action, file] = positionals;
  if (action === 'install' && positionals.length === 1) {
    const places = [
      values.user && userFolder(),
      values['sys-prefix'] && environmentFolder(),
      values.prefix !== undefined && inPrefix(resolve(io.cwd, values.prefix)),
    ].filter((place) => typeof place === 'string');
    if (places.length > 1) throw new WrongCall('found several places; expected one of --user, --sys-prefix, --prefix');
    return install({ folder: places[0] ?? userFolder(), name: values.name, displayName: values['display-name'] }, io);
  }
  if (action === 'run' && file !== undefined) return serveConnection(resolve(io.cwd, file), io);
  throw new WrongCall(`found "${positionals.join(' ')}"; expected install, or run with a connection file`);
}

interface Installation {
  /** Folder with Jupyter's data. */
  readonly folder: string;
  readonly name: string;
  readonly displayName: string;
}

async function install({ folder, name, displayName }: Installation, io: Io): Promise<number> {
  if (!/^[a-z0-9._-]+$/i.test(name) || /^\.+$/.test(name))
    throw new WrongCall(`found the name "${name}"; expected letters a to z, digits, - . and _`);
  const { writeWhole } = await import('../write-whole.ts');
  const path = join(folder, 'kernels', name.toLowerCase(), 'kernel.json');
  const launcher = fileURLToPath(new URL('../upneck.mjs', import.meta.url));
  const spec = {
    argv: [process.execPath, launcher, 'kernel', 'run', '{connection_file}'],
    display_name: displayName,
    language: 'typescript',
    interrupt_mode: 'message',
    metadata: { debugger: false },
  };
  await writeWhole(path, `${JSON.stringify(spec, null, 2)}\n`);
  io.stderr(`Wrote ${path}\n`);
  return 0;
}

function inPrefix(prefix: string): string {
  return join(prefix, 'share', 'jupyter');
}

/** Jupyter's data in the Python environment a shell has activated. */
function environmentFolder(): string {
  const prefix = process.env.VIRTUAL_ENV ?? process.env.CONDA_PREFIX;
  if (prefix) return inPrefix(prefix);
  throw new WrongCall(
    'no Python environment is active (VIRTUAL_ENV, CONDA_PREFIX); activate one, or give --prefix DIR',
  );
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
  const { readConnection } = await import('../jupyter/connection.ts');
  const { serve } = await import('../jupyter/kernel.ts');
  const text = await readFile(path, 'utf8').catch((error: NodeJS.ErrnoException) => {
    const problem = error.code === 'ENOENT' ? 'there is no' : 'cannot read the';
    throw new WrongCall(`${problem} connection file "${path}"`);
  });
  await serve(readConnection(text, path), io.cwd);
  return 0;
}
