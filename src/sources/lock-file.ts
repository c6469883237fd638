import { open, readFile, rename, rm } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join } from 'node:path';
import { writeError } from './write-file.ts';

/**
 * Takes the lock on a file, so that one process at a time writes to it: `.NAME.lock` beside it, with this process's number
 * and machine. The lock that a killed process left behind is taken over.
 *
 * @returns what gives the lock back
 * @throws {Error} when another process has it; says which and what to do
 */
export async function lockFile(path: string, shown: string): Promise<() => Promise<void>> {
  const lock = join(dirname(path), `.${basename(path)}.lock`);
  const mine = `${process.pid} ${hostname()}\n`;
  for (;;) {
    if (await created(lock, mine, shown))
      return async () => {
        if ((await contentOf(lock)) === mine) await rm(lock, { force: true });
      };
    const theirs = await contentOf(lock);
    if (theirs === undefined) continue;
    if (!isStale(theirs)) throw new Error(busyText(theirs, { lock, shown }));
    // Set aside before it is removed, and looked at again: another process may have taken it over in between.
    const aside = `${lock}.${process.pid}`;
    await rename(lock, aside).catch((error: NodeJS.ErrnoException) => {
      if (error.code !== 'ENOENT') throw writeError(lock, error);
    });
    const taken = await contentOf(aside);
    if (taken !== undefined && taken !== theirs) await rename(aside, lock);
    else await rm(aside, { force: true });
  }
}

async function created(lock: string, content: string, shown: string): Promise<boolean> {
  try {
    const handle = await open(lock, 'wx');
    try {
      await handle.writeFile(content);
    } finally {
      await handle.close();
    }
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
    throw writeError(shown, error);
  }
}

async function contentOf(lock: string): Promise<string | undefined> {
  try {
    return await readFile(lock, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
}

/** Whether the process that took a lock, on this machine, is gone. A process cannot find its own number: it is new. */
function isStale(content: string): boolean {
  const [number, machine] = content.trim().split(' ');
  const pid = Number(number);
  if (!(pid > 0)) return true;
  if (machine !== hostname()) return false;
  if (pid === process.pid) return true;
  try {
    process.kill(pid, 0);
    return false;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'ESRCH';
  }
}

function busyText(content: string, { lock, shown }: { readonly lock: string; readonly shown: string }): string {
  const [pid, machine] = content.trim().split(' ');
  const where = machine === hostname() ? '' : ` on ${machine}`;
  return `${shown}: process ${pid}${where} is logging to it. End that one, or give another file. If no such process runs, delete ${lock}`;
}
