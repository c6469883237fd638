/** How often to look, in milliseconds. */
const pause = 1000;

/**
 * Calls `gone` once when the client that started this process has ended: the process JPY_PARENT_PID names, as Jupyter
 * clients set it, or else the parent the operating system knows.
 *
 * @returns stops watching
 */
export function watchParent(gone: () => void): () => void {
  const named = Number(process.env.JPY_PARENT_PID);
  const { ppid } = process;
  // A parent that is dead but not yet waited for still counts as alive; that it is no parent any more tells. A number
  // that names no process here is of another container, or a handle as Windows has them.
  const isParent = !Number.isInteger(named) || named <= 1 || named === ppid || !isAlive(named);
  const timer = setInterval(() => {
    if (isParent ? process.ppid === ppid : isAlive(named)) return;
    clearInterval(timer);
    gone();
  }, pause);
  return () => clearInterval(timer);
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM'; // another person's, but there
  }
}
