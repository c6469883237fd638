import { Publisher, Reply, Router } from 'zeromq';
import { portFields, type Connection } from './connection.ts';
import { Wire, type Content, type Header, type Message } from './wire.ts';

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

  /** @throws {Error} when an address cannot be had; the message names it and its field, and no socket stays open */
  async bind(): Promise<void> {
    const { connection, routers } = this;
    const { transport, ip } = connection;
    const host = ip === 'localhost' ? '127.0.0.1' : ip; // names are not looked up for binding
    const sockets = {
      shell_port: routers.shell,
      control_port: routers.control,
      stdin_port: routers.stdin,
      iopub_port: this.iopub,
      hb_port: this.heartbeat,
    };
    for (const field of portFields) {
      const port = connection[field];
      const address = transport === 'ipc' ? `ipc://${ip}-${port}` : `tcp://${host}:${port}`;
      try {
        await sockets[field].bind(address);
      } catch (error) {
        this.closeSockets();
        const { message } = error as Error;
        throw new Error(`Cannot listen on ${address} ("${field}"): ${message}`, { cause: error });
      }
    }
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
    this.closeSockets();
  }

  private closeSockets(): void {
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
