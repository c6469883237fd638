import { spawn, type ChildProcess } from 'node:child_process';
import { createHmac, randomUUID } from 'node:crypto';
import { once } from 'node:events';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { Dealer, Request, Subscriber } from 'zeromq';

type Json = Record<string, unknown>;

/** A message as the protocol lays it out. */
export interface Received {
  readonly header: Json & { readonly msg_type: string };
  readonly parent: Json;
  readonly content: Json;
  readonly isSigned: boolean;
}

const key = 'a key of the test';
const shell = 1;
const iopub = 2;
const stdin = 3;
const control = 4;
const heartbeat = 5;

export interface KernelOptions {
  readonly env?: NodeJS.ProcessEnv;
  /** A program of Node to start the kernel from, which then goes on with this. */
  readonly parent?: string;
}

/** A kernel in a process of its own, reached by Unix sockets, so that no port can be taken. */
export class TestKernel {
  /** The kernel's process, or that of the program which started it. */
  readonly child: ChildProcess;
  /** The folder it works in. */
  readonly folder = mkdtempSync(join(tmpdir(), 'upneck-kernel-'));
  private readonly base: string;

  constructor({ env = {}, parent }: KernelOptions = {}) {
    const { folder } = this;
    this.base = join(folder, 'k');
    const file = join(folder, 'connection.json');
    const ports = {
      shell_port: shell,
      iopub_port: iopub,
      stdin_port: stdin,
      control_port: control,
      hb_port: heartbeat,
    };
    writeFileSync(
      file,
      JSON.stringify({ transport: 'ipc', ip: this.base, key, signature_scheme: 'hmac-sha256', ...ports }),
    );
    const launcher = resolve('src/clients/upneck.mjs');
    const args = [launcher, 'kernel', 'run', file];
    const start = `require('node:child_process').spawn(process.execPath, ${JSON.stringify(args)}, { stdio: 'inherit' });`;
    this.child = spawn(process.execPath, parent === undefined ? args : ['-e', `${start}${parent}`], {
      cwd: folder,
      stdio: 'inherit',
      env: { ...process.env, JPY_PARENT_PID: '', ...env },
    });
  }

  async client(): Promise<TestClient> {
    const client = new TestClient((port) => `ipc://${this.base}-${port}`);
    await client.ready();
    return client;
  }

  async exit(): Promise<number | null> {
    if (this.child.exitCode === null) await once(this.child, 'exit');
    return this.child.exitCode;
  }
}

/** A client written from the messaging specification, sharing no code with the kernel. */
export class TestClient {
  /** All publications since the start, in order. */
  readonly published: Received[] = [];
  readonly session = randomUUID();
  private readonly replies: Received[] = [];
  private readonly sockets: { shell: Dealer; control: Dealer; stdin: Dealer };
  private readonly subscriber = new Subscriber();
  private readonly waiting: (() => void)[] = [];

  constructor(private readonly address: (port: number) => string) {
    const routingId = this.session;
    const [a, b, c] = [new Dealer({ routingId }), new Dealer({ routingId }), new Dealer({ routingId })];
    this.sockets = { shell: a, control: b, stdin: c };
    a.connect(address(shell));
    b.connect(address(control));
    c.connect(address(stdin));
    this.subscriber.connect(address(iopub));
    this.subscriber.subscribe();
    for (const socket of [a, b, c]) void this.collect(socket, this.replies);
    void this.collect(this.subscriber, this.published);
  }

  /** Asks until an answer and its publications come. */
  async ready(): Promise<void> {
    for (;;) {
      const id = await this.send('control', 'kernel_info_request', {});
      const isThere = (): boolean => this.published.some(({ parent }) => parent.msg_id === id);
      await Promise.race([this.until(isThere), new Promise((done) => setTimeout(done, 300))]);
      if (isThere()) return;
    }
  }

  async send(channel: 'shell' | 'control' | 'stdin', type: string, content: Json, secret = key): Promise<string> {
    const id = randomUUID();
    const date = new Date().toISOString();
    const header = { msg_id: id, session: this.session, username: 'test', date, msg_type: type, version: '5.4' };
    await this.sendParts(
      channel,
      [header, {}, {}, content].map((part) => JSON.stringify(part)),
      secret,
    );
    return id;
  }

  sendParts(channel: 'shell' | 'control' | 'stdin', parts: string[], secret = key): Promise<void> {
    return this.sockets[channel].send(['<IDS|MSG>', sign(parts, secret), ...parts]);
  }

  execute(code: string, more: Json = {}): Promise<string> {
    return this.send('shell', 'execute_request', {
      code,
      silent: false,
      store_history: true,
      user_expressions: {},
      allow_stdin: false,
      stop_on_error: true,
      ...more,
    });
  }

  /** The reply to a request, once the kernel is idle after it. */
  async reply(id: string): Promise<Received> {
    await this.until(() => this.of(id).some(({ content }) => content.execution_state === 'idle'));
    return this.answer(({ parent, header }) => parent.msg_id === id && header.msg_type.endsWith('_reply'));
  }

  async answer(fits: (message: Received) => boolean): Promise<Received> {
    await this.until(() => this.replies.some(fits));
    return this.replies.find(fits)!;
  }

  /** Runs code and gives its reply and what was published for it, without the status messages. */
  async run(code: string, more: Json = {}): Promise<{ reply: Json; published: [type: string, content: Json][] }> {
    const id = await this.execute(code, more);
    const { content } = await this.reply(id);
    const published = this.of(id).filter(({ header }) => header.msg_type !== 'status');
    return { reply: content, published: published.map((one) => [one.header.msg_type, one.content]) };
  }

  /** What was published for a request. */
  of(id: string): Received[] {
    return this.published.filter(({ parent }) => parent.msg_id === id);
  }

  get all(): Received[] {
    return [...this.replies, ...this.published];
  }

  async until(isSo: () => boolean): Promise<void> {
    while (!isSo()) await new Promise<void>((done) => this.waiting.push(done));
  }

  async beat(text: string): Promise<string> {
    const socket = new Request();
    socket.connect(this.address(heartbeat));
    await socket.send(text);
    const [echo] = await socket.receive();
    socket.close();
    return echo!.toString();
  }

  close(): void {
    for (const socket of [...Object.values(this.sockets), this.subscriber]) socket.close();
  }

  private async collect(socket: Dealer | Subscriber, into: Received[]): Promise<void> {
    for await (const frames of socket) {
      const start = frames.findIndex((frame) => frame.toString() === '<IDS|MSG>');
      const parts = frames.slice(start + 2, start + 6).map(String);
      const [header, parent, , content] = parts.map((part) => JSON.parse(part) as Json);
      const isSigned = frames[start + 1]!.toString() === sign(parts, key);
      into.push({ header: header as Received['header'], parent: parent!, content: content!, isSigned });
      for (const wake of this.waiting.splice(0)) wake();
    }
  }
}

function sign(parts: string[], secret: string): string {
  return createHmac('sha256', secret).update(parts.join('')).digest('hex');
}
