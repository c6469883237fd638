import { createHmac, randomUUID, timingSafeEqual } from 'node:crypto';

/** The protocol's version we speak. @see https://jupyter-client.readthedocs.io/en/stable/messaging.html */
export const protocolVersion = '5.4';

export interface Header {
  readonly msg_id: string;
  readonly session: string;
  readonly username: string;
  readonly date: string;
  readonly msg_type: string;
  readonly version: string;
}

export type Content = Readonly<Record<string, unknown>>;

export interface Message {
  /** Routing prefixes: to whom an answer goes, or the topic of a publication. */
  readonly identities: readonly Buffer[];
  readonly header: Header;
  /** Empty for a message nothing led to. */
  readonly parent: Header | Record<string, never>;
  readonly metadata: Content;
  readonly content: Content;
}

const delimiter = Buffer.from('<IDS|MSG>');

/** Signs and reads the messages of one connection. An empty key means that nothing is signed. */
export class Wire {
  readonly session = randomUUID();

  constructor(
    private readonly key: string,
    private readonly username = 'upneck',
  ) {}

  header(type: string): Header {
    const date = new Date().toISOString();
    const { session, username } = this;
    return { msg_id: randomUUID(), session, username, date, msg_type: type, version: protocolVersion };
  }

  frames({ identities, header, parent, metadata, content }: Message): Buffer[] {
    const parts = [header, parent, metadata, content].map((part) => Buffer.from(JSON.stringify(part)));
    return [...identities, delimiter, Buffer.from(this.signature(parts)), ...parts];
  }

  /** The message in the frames, or null when they are none, or not signed with our key. */
  read(frames: readonly Buffer[]): Message | null {
    const start = frames.findIndex((frame) => frame.equals(delimiter));
    if (start < 0 || frames.length < start + 6) return null;
    const parts = frames.slice(start + 2, start + 6);
    const given = frames[start + 1]!;
    const expected = Buffer.from(this.signature(parts));
    if (given.length !== expected.length || !timingSafeEqual(given, expected)) return null;
    try {
      const [header, parent, metadata, content] = parts.map((part) => JSON.parse(part.toString()) as unknown);
      if (!isObject(header) || typeof header.msg_type !== 'string' || !isObject(content)) return null;
      return {
        identities: frames.slice(0, start),
        header: header as unknown as Header, // of a client that holds our key
        parent: isObject(parent) ? (parent as unknown as Header) : {},
        metadata: isObject(metadata) ? metadata : {},
        content,
      };
    } catch {
      return null; // signed, but not JSON
    }
  }

  private signature(parts: readonly Buffer[]): string {
    if (this.key === '') return '';
    const hmac = createHmac('sha256', this.key);
    for (const part of parts) hmac.update(part);
    return hmac.digest('hex');
  }
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
