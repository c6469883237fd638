import { resolve } from 'node:path';
import type { Intelligence } from '../../kernel/intelligence.ts';
import { progressType, type Progress, type Prompt, type Shown } from '../../kernel/protocol.ts';
import { startSession, type Outcome, type Session } from '../../kernel/session.ts';
import type { MimeBundle } from '../../notebook/cell.ts';
import { traceback } from '../../notebook/output.ts';
import { Channels, type Connection } from './channels.ts';
import { isComplete } from './is-complete.ts';
import { History } from './history.ts';
import { protocolVersion, type Content, type Message } from './wire.ts';

/** How long after a failure queued requests may still come in to be aborted with it, in milliseconds. */
const abortTime = 30;
/** Cells that completion and inspection see. */
const seenCells = 300;

/**
 * Serves one session to clients of the Jupyter messaging protocol 5.4, until one asks to shut it down.
 *
 * @param folder the notebook's folder
 */
export async function serve(connection: Connection, folder: string): Promise<void> {
  const kernel = new Kernel(new Channels(connection), folder);
  await kernel.run();
}

interface Request extends Message {
  readonly channel: 'shell' | 'control';
  isAborted: boolean;
}

type Answer = Content | null;

class Kernel {
  private readonly session: Session;
  private readonly queue: Request[] = [];
  private readonly history = new History();
  private readonly cells = new Map<string, { readonly id: string; readonly source: string }>();
  private isBusy = false;
  private count = 0;
  private executing: { readonly request: Request; readonly allowsStdin: boolean } | null = null;
  private waitingInput: ((text: string | null) => void) | null = null;
  private intelligence: Intelligence | null = null;
  private finished!: () => void;
  private readonly done = new Promise<void>((resolve) => (this.finished = resolve));

  constructor(
    private readonly channels: Channels,
    private readonly folder: string,
  ) {
    const values = { parameters: {}, outputFolder: resolve(folder, 'out') };
    this.session = startSession({ folder, values, ask: (prompt) => this.ask(prompt) });
  }

  async run(): Promise<void> {
    const { channels } = this;
    await channels.bind();
    void channels.listen('shell', (message) => {
      this.queue.push({ ...message, channel: 'shell', isAborted: false });
      void this.next();
    });
    void channels.listen(
      'control',
      (message) => void this.handle({ ...message, channel: 'control', isAborted: false }),
    );
    void channels.listen('stdin', ({ header, content }) => {
      if (header.msg_type === 'input_reply') this.answerInput(String(content.value));
    });
    process.removeAllListeners('SIGINT'); // of the command line, which ends at the second
    process.on('SIGINT', () => void this.interrupt());
    await channels.publish('status', { execution_state: 'starting' }, null);
    await this.done;
    await this.session.dispose();
    this.intelligence?.dispose();
    await channels.close();
  }

  /** Shell requests are answered one at a time, in order; control requests at once. */
  private async next(): Promise<void> {
    if (this.isBusy) return;
    this.isBusy = true;
    for (let request = this.queue.shift(); request; request = this.queue.shift()) await this.handle(request);
    this.isBusy = false;
  }

  private async handle(request: Request): Promise<void> {
    const { channels } = this;
    const { header, channel } = request;
    await channels.publish('status', { execution_state: 'busy' }, header);
    try {
      const answer = await this.answer(request);
      if (answer) await channels.reply(channel, header.msg_type.replace(/_request$/, '_reply'), answer, request);
    } catch (error) {
      const { name, message } = error instanceof Error ? error : { name: 'Error', message: String(error) };
      const content = { status: 'error', ename: name, evalue: message, traceback: [`${name}: ${message}`] };
      await channels.reply(channel, header.msg_type.replace(/_request$/, '_reply'), content, request);
    }
    await channels.publish('status', { execution_state: 'idle' }, header);
    if (header.msg_type === 'shutdown_request') this.finished();
  }

  private async answer(request: Request): Promise<Answer> {
    const { header, content } = request;
    switch (header.msg_type) {
      case 'kernel_info_request':
        return kernelInfo();
      case 'execute_request':
        return request.isAborted ? { status: 'aborted' } : this.execute(request);
      case 'complete_request':
        return this.complete(String(content.code), Number(content.cursor_pos));
      case 'inspect_request':
        return this.inspect(String(content.code), Number(content.cursor_pos));
      case 'is_complete_request':
        return isComplete(String(content.code));
      case 'history_request':
        return { status: 'ok', history: this.history.select(content) };
      case 'comm_info_request':
        return { status: 'ok', comms: {} };
      case 'comm_open':
        await this.channels.publish('comm_close', { comm_id: content.comm_id, data: {} }, header);
        return null;
      case 'interrupt_request':
        await this.interrupt();
        return { status: 'ok' };
      case 'shutdown_request':
        await this.channels.publish('shutdown_reply', { status: 'ok', restart: content.restart === true }, header);
        return { status: 'ok', restart: content.restart === true };
      default:
        return null;
    }
  }

  private async execute(request: Request): Promise<Content> {
    const { header, content, metadata } = request;
    const code = String(content.code);
    const isSilent = content.silent === true;
    const isStored = !isSilent && content.store_history !== false;
    if (isStored) this.count += 1;
    const count = this.count;
    const publish = (type: string, body: Content): void => {
      if (!isSilent) void this.channels.publish(type, body, header);
    };
    publish('execute_input', { code, execution_count: count });
    if (isStored) this.history.add(count, code);

    this.executing = { request, allowsStdin: content.allow_stdin === true };
    const id = typeof metadata.cellId === 'string' ? metadata.cellId : `in-${count}`;
    const outcome = await this.session.run({ id, source: code }, shower(publish));
    this.executing = null;
    if (outcome.status !== 'ok') {
      const failure = failureContent(outcome);
      publish('error', failure);
      if (content.stop_on_error !== false) await this.abortQueued();
      return { status: 'error', execution_count: count, ...failure };
    }
    if (!isSilent) this.remember(id, code);
    if (outcome.value) {
      publish('execute_result', { execution_count: count, data: outcome.value, metadata: {} });
      if (isStored) this.history.setOutput(count, String(outcome.value['text/plain']));
    }
    const expressions = await this.evaluate(content.user_expressions);
    return { status: 'ok', execution_count: count, user_expressions: expressions, payload: [] };
  }

  private async evaluate(expressions: unknown): Promise<Content> {
    const results: Record<string, unknown> = {};
    for (const [name, expression] of Object.entries((expressions ?? {}) as Record<string, unknown>)) {
      const outcome = await this.session.run({ id: name, source: String(expression) }, () => undefined);
      results[name] =
        outcome.status === 'ok'
          ? { status: 'ok', data: outcome.value ?? {}, metadata: {} }
          : { status: 'error', ...failureContent(outcome) };
    }
    return results;
  }

  /** After a failure the requests that wait behind it are not executed. */
  private async abortQueued(): Promise<void> {
    await new Promise((done) => setTimeout(done, abortTime));
    for (const request of this.queue) if (request.header.msg_type === 'execute_request') request.isAborted = true;
  }

  private async interrupt(): Promise<void> {
    this.answerInput(null);
    await this.session.interrupt();
  }

  private ask({ text, isSecret }: Prompt): Promise<string | null> {
    const { executing } = this;
    if (!executing?.allowsStdin) return Promise.resolve(null);
    void this.channels.reply('stdin', 'input_request', { prompt: text, password: isSecret }, executing.request);
    return new Promise((answer) => (this.waitingInput = answer));
  }

  private answerInput(text: string | null): void {
    this.waitingInput?.(text);
    this.waitingInput = null;
  }

  private remember(id: string, source: string): void {
    this.cells.delete(id);
    this.cells.set(id, { id, source });
    const [oldest] = this.cells.keys();
    if (this.cells.size > seenCells) this.cells.delete(oldest!);
  }

  /** The compiler's view of all cells so far, and of the one being written, "new". */
  private async think(code: string): Promise<Intelligence> {
    if (!this.intelligence) {
      const { Intelligence } = await import('../../kernel/intelligence.ts');
      this.intelligence = new Intelligence({ folder: this.folder });
    }
    this.intelligence.update([...this.cells.values(), { id: 'new', source: code }]);
    return this.intelligence;
  }

  private async complete(code: string, cursor: number): Promise<Content> {
    const offset = toOffset(code, cursor);
    const { items, start, end } = (await this.think(code)).completions('new', offset);
    const typed = code.slice(start, offset);
    const fitting = items.filter(({ name }) => name.startsWith(typed));
    const range = { cursor_start: toCursor(code, start), cursor_end: toCursor(code, end) };
    const types = fitting.map(({ name, kind }) => {
      return { start: range.cursor_start, end: range.cursor_end, text: name, type: kind };
    });
    const matches = fitting.map(({ name }) => name);
    return { status: 'ok', matches, ...range, metadata: { _jupyter_types_experimental: types } };
  }

  private async inspect(code: string, cursor: number): Promise<Content> {
    const intelligence = await this.think(code);
    const offset = toOffset(code, cursor);
    // A cursor behind a name means the name.
    const hover = intelligence.hover('new', offset) ?? intelligence.hover('new', Math.max(0, offset - 1));
    if (!hover) return { status: 'ok', found: false, data: {}, metadata: {} };
    const { signature, documentation } = hover;
    const data = {
      'text/plain': [signature, documentation].filter((part) => part !== '').join('\n\n'),
      'text/markdown': ['```ts\n' + signature + '\n```', documentation].filter((part) => part !== '').join('\n\n'),
    };
    return { status: 'ok', found: true, data, metadata: {} };
  }
}

/** Translates what a session shows into publications. */
function shower(publish: (type: string, body: Content) => void): (bundle: MimeBundle, shown: Shown) => void {
  const begun = new Set<string>();
  return (bundle, { kind, id, update }) => {
    switch (kind) {
      case 'stdout':
      case 'stderr':
        return publish('stream', { name: kind, text: bundle['text/plain'] });
      case 'clear':
        return publish('clear_output', { wait: false });
      case 'display':
      case 'progress': {
        const isUpdate = kind === 'display' ? update === true : begun.has(id!);
        if (id !== undefined) begun.add(id);
        const data = kind === 'progress' ? progressBundle(bundle) : bundle;
        const transient = id === undefined ? {} : { display_id: id };
        return publish(isUpdate ? 'update_display_data' : 'display_data', { data, metadata: {}, transient });
      }
    }
  };
}

function progressBundle(bundle: MimeBundle): MimeBundle {
  const { done, total, label } = bundle[progressType] as Progress;
  const text = label.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
  const html = `<label>${text} <progress value="${Number(done)}" max="${Number(total)}"></progress></label>`;
  return { 'text/plain': bundle['text/plain'], 'text/html': html };
}

function failureContent(outcome: Exclude<Outcome, { status: 'ok' }>): Content {
  if (outcome.status === 'interrupted')
    return { ename: 'Interrupted', evalue: 'the cell was stopped', traceback: ['Interrupted: the cell was stopped'] };
  const { failure } = outcome.error;
  return { ename: failure.name, evalue: failure.message, traceback: traceback(failure) };
}

function kernelInfo(): Content {
  return {
    status: 'ok',
    protocol_version: protocolVersion,
    implementation: 'upneck',
    implementation_version: '0.1.0',
    language_info: {
      name: 'typescript',
      version: '5.9',
      mimetype: 'text/x-typescript',
      file_extension: '.ts',
      pygments_lexer: 'typescript',
      codemirror_mode: 'text/typescript',
      nbconvert_exporter: 'script',
    },
    banner: 'Upneck: TypeScript cells for logs of intonation readings',
    help_links: [],
    debugger: false,
  };
}

/** The protocol counts Unicode code points, JavaScript UTF-16 units. */
function toOffset(code: string, cursor: number): number {
  return [...code].slice(0, cursor).join('').length;
}

function toCursor(code: string, offset: number): number {
  return [...code.slice(0, offset)].length;
}
