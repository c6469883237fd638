import { createRequire, syncBuiltinESMExports } from 'node:module';
import { MessageChannel } from 'node:worker_threads';

type Callback = (...args: unknown[]) => void;

/**
 * Lets callbacks of timers run as messages do. Node's timer queue does not survive being cut off in the middle of a
 * callback, which is how a long computation is interrupted; its message queue does.
 */
export function deferTimers(): void {
  const { port1, port2 } = new MessageChannel();
  const due = new Map<number, () => void>();
  /** Keys of what each timer has due, so that clearing it still counts. */
  const keys = new WeakMap<object, number>();
  let last = 0;
  port1.on('message', (key: number) => {
    const call = due.get(key);
    due.delete(key);
    call?.();
  });

  const timers = createRequire(import.meta.url)('node:timers') as typeof import('node:timers');
  const wrap = (
    start: (callback: Callback, ...rest: never[]) => object,
  ): ((callback: Callback, ms?: number, ...args: unknown[]) => object) => {
    const isImmediate = start === (timers.setImmediate as unknown);
    return (callback, ...rest) => {
      if (typeof callback !== 'function') return start(callback, ...(rest as never[])); // Node says what is wrong
      const args = isImmediate ? rest : rest.slice(1);
      const fire = (): void => {
        const key = (last += 1);
        keys.set(timer, key);
        due.set(key, () => callback(...args));
        port2.postMessage(key);
      };
      const timer = isImmediate ? start(fire) : start(fire, rest[0] as never);
      return timer;
    };
  };
  const wrapClear = (clear: (timer: never) => void) => (timer: unknown) => {
    if (typeof timer === 'object' && timer !== null) due.delete(keys.get(timer) ?? 0);
    clear(timer as never);
  };
  const deferred = {
    setTimeout: wrap(timers.setTimeout),
    setInterval: wrap(timers.setInterval),
    setImmediate: wrap(timers.setImmediate),
    clearTimeout: wrapClear(timers.clearTimeout),
    clearInterval: wrapClear(timers.clearInterval),
    clearImmediate: wrapClear(timers.clearImmediate),
  };
  // util.promisify(setTimeout) and the like stay what they were.
  for (const name of ['setTimeout', 'setImmediate'] as const) {
    const symbols = Object.getOwnPropertySymbols(timers[name]);
    for (const symbol of symbols)
      Object.defineProperty(deferred[name], symbol, Object.getOwnPropertyDescriptor(timers[name], symbol)!);
  }
  Object.assign(timers, deferred);
  Object.assign(globalThis, deferred);
  syncBuiltinESMExports();
}
