// The thread beside the cells. It speaks with the client over file descriptor 3, one JSON document a line, so that
// outputs flow and an interrupt is heard while a cell computes; it ends the process when the client is gone.
import { Session } from 'node:inspector';
import { Socket } from 'node:net';
import { clearTimeout, setTimeout } from 'node:timers';
import { parentPort, workerData } from 'node:worker_threads';

/** How long a cell has to stop by itself, in milliseconds, before its JavaScript is cut off. */
const patience = 150;
/** How long printed text waits for more, in milliseconds. */
const gatherTime = 10;
const flag = new Int32Array(workerData.flag);
const socket = new Socket({ fd: 3 });

/** @type {Map<number, NodeJS.Timeout>} Interrupts the cells' thread has not answered, by run. */
const unanswered = new Map();

function interrupt(run) {
  // Loops of cells look at the flag; a pending wait hears the message.
  Atomics.store(flag, 0, 1);
  if (unanswered.has(run)) return;
  unanswered.set(run, setTimeout(terminate, patience));
}

/** Code without a flag in it (a regular expression, a library's loop) is cut off by the engine itself. */
function terminate() {
  const session = new Session();
  session.connectToMainThread();
  session.post('Runtime.terminateExecution', () => session.disconnect());
}

let text = '';
socket.setEncoding('utf8');
socket.on('data', (chunk) => {
  const lines = (text + chunk).split('\n');
  text = lines.pop();
  for (const line of lines) {
    const message = JSON.parse(line);
    if (message.type === 'kill') process.kill(process.pid, 'SIGKILL');
    if (message.type === 'interrupt') interrupt(message.run);
    parentPort.postMessage(message);
  }
});
socket.on('close', () => process.kill(process.pid, 'SIGKILL'));
socket.on('error', () => process.kill(process.pid, 'SIGKILL'));

/** @type {{ message: object, texts: string[], timer: NodeJS.Timeout } | null} Printed text that waits for more. */
let printing = null;

function write(message) {
  socket.write(`${JSON.stringify(message)}\n`);
}

/** Gathers what a run prints, so that many short texts make few messages; here, where no loop of a cell can hold it. */
function print(message) {
  const text = message.bundle['text/plain'];
  const { run, shown } = printing?.message ?? {};
  if (run === message.run && shown.kind === message.shown.kind) {
    printing.texts.push(text);
    return;
  }
  flush();
  printing = { message, texts: [text], timer: setTimeout(flush, gatherTime) };
}

function flush() {
  if (!printing) return;
  const { message, texts, timer } = printing;
  printing = null;
  clearTimeout(timer);
  write({ ...message, bundle: { 'text/plain': texts.join('') } });
}

parentPort.on('message', (message) => {
  if (message.type === 'interrupted') {
    clearTimeout(unanswered.get(message.run));
    unanswered.delete(message.run);
  } else if (message.type === 'show' && /^std(out|err)$/.test(message.shown.kind)) {
    print(message);
  } else {
    flush();
    write(message);
  }
});
