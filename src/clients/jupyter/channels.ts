import { Publisher, Reply, Router } from 'zeromq';
import { Wire, type Content, type Header, type Message } from './wire.ts';

/** A connection file, as the Jupyter client writes it. */
export interface Connection {
  readonly transport: string;
  readonly ip: string;
  readonly key: string;
  readonly signature_scheme: string;
  readonly shell_port: number;
  readonly iopub_port: number;
  readonly stdin_port: number;
  readonly control_port: number;
  readonly hb_port: number;
}

export type Channel = 'shell' | 'control' | 'stdin';

/** The five sockets of a kernel: reading, and sending one message after another on each. */
export class Channels {
  readonly wire: Wire;
  private readonly routers: Readonly<Record<Channel, Router>>;
  private readonly iopub = new Publisher();
  private readonly heartbeat = new Reply();
  /** A socket sends one message at a time: the last send of each. */
  private readonly sending = new Map<object, Promise<void>>();

  constructor(private readonly connection: Connection) {
    const { ip, transport, signature_scheme: scheme } = connection;
    if (transport !== 'tcp' && transport !== 'ipc')
      throw new Error(`Cannot serve the transport "${transport}"; expected tcp or ipc`);
    if (transport === 'tcp' && !/^(127\.\d+\.\d+\.\d+|localhost)$/.test(ip))
      throw new Error(`Cannot serve on ${ip}; expected an address of this machine alone, such as 127.0.0.1`);
    if (scheme !== 'hmac-sha256') throw new Error(`Cannot sign with "${scheme}"; expected hmac-sha256`);
    this.wire = new Wire(connection.key);
    this.routers = {
      shell: new Router({ handover: true }),
      control: new Router({ handover: true }),
      stdin: new Router({ handover: true }),
    };
    for (const socket of [...Object.values(this.routers), this.iopub]) {
      socket.linger = 1000;
      socket.sendHighWaterMark = 0;
    }
  }

  async bind(): Promise<void> {
    const { connection, routers } = this;
    const { transport, ip } = connection;
    const host = ip === 'localhost' ? '127.0.0.1' : ip; // names are not looked up for binding
    const address = (port: number): string => (transport === 'ipc' ? `ipc://${ip}-${port}` : `tcp://${host}:${port}`);
    await routers.shell.bind(address(connection.shell_port));
    await routers.control.bind(address(connection.control_port));
    await routers.stdin.bind(address(connection.stdin_port));
    await this.iopub.bind(address(connection.iopub_port));
    await this.heartbeat.bind(address(connection.hb_port));
    void this.echo();
  }

  /** Hands every message of a channel that is signed and sound to `receive`; others are dropped. */
  async listen(channel: Channel, receive: (message: Message) => void): Promise<void> {
    for await (const frames of this.routers[channel]) {
      const message = this.wire.read(frames);
      if (message) receive(message);
    }
  }

  /** Sends to whoever sent `parent`. */
  reply(channel: Channel, type: string, content: Content, parent: Message): Promise<void> {
    return this.send(this.routers[channel], this.message(type, content, parent.header, parent.identities));
  }

  /** Tells all clients. */
  publish(type: string, content: Content, parent: Header | null): Promise<void> {
    return this.send(this.iopub, this.message(type, content, parent, [Buffer.from(type)]));
  }

  async close(): Promise<void> {
    await Promise.all(this.sending.values());
    for (const socket of [...Object.values(this.routers), this.iopub, this.heartbeat]) socket.close();
  }

  private message(type: string, content: Content, parent: Header | null, identities: readonly Buffer[]): Message {
    return { identities, header: this.wire.header(type), parent: parent ?? {}, metadata: {}, content };
  }

  private send(socket: Router | Publisher, message: Message): Promise<void> {
    const frames = this.wire.frames(message);
    const sent = (this.sending.get(socket) ?? Promise.resolve()).then(() => socket.send(frames));
    const settled = sent.catch(() => undefined); // a client that has gone
    this.sending.set(socket, settled);
    return settled;
  }

  private async echo(): Promise<void> {
    for await (const frames of this.heartbeat) await this.heartbeat.send(frames);
  }
}
