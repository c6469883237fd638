import { resolve } from 'node:path';
import type { Prompt } from '../../kernel/protocol.ts';
import { startSession, type Session } from '../../kernel/session.ts';
import type { Channels } from './channels.ts';
import type { Connection } from './connection.ts';
import { Fields } from './fields.ts';
import { History } from './history.ts';
import { askedName, Language } from './language.ts';
import { watchParent } from './parent.ts';
import { failureContent, kernelInfo, noDebugger, shower } from './publications.ts';
import type { Content, Message } from './wire.ts';

/** How long after a failure queued requests may still come in to be aborted with it, in milliseconds. */
const abortTime = 30;

/**
 * Serves one session to clients of the Jupyter messaging protocol 5.4, until one asks to shut it down, or the process
 * that started it is gone.
 *
 * @param folder the notebook's folder
 */
export async function serve(connection: Connection, folder: string): Promise<void> {
  const values = { parameters: {}, outputFolder: resolve(folder, 'out') };
  const asking: { kernel?: Kernel } = {};
  const ask = (prompt: Prompt): Promise<string | null> => asking.kernel!.ask(prompt);
  const session = startSession({ folder, values, ask });
  try {
    // The library of the sockets is loaded while the session starts.
    const { Channels } = await import('./channels.ts');
    const channels = new Channels(connection);
    await channels.bind();
    asking.kernel = new Kernel(channels, session, folder);
    await asking.kernel.run();
  } finally {
    await session.dispose();
  }
}

interface Request extends Message {
  readonly channel: 'shell' | 'control';
  isAborted: boolean;
}

type Answer = Content | null;

class Kernel {
  private readonly queue: Request[] = [];
  private readonly history = new History();
  private readonly language: Language;
  private isBusy = false;
  private count = 0;
  private executing: { readonly request: Request; readonly allowsStdin: boolean } | null = null;
  private waitingInput: ((text: string | null) => void) | null = null;
  private finished!: () => void;
  private readonly done = new Promise<void>((resolve) => (this.finished = resolve));

  constructor(
    private readonly channels: Channels,
    private readonly session: Session,
    folder: string,
  ) {
    this.language = new Language(folder);
  }

  async run(): Promise<void> {
    const { channels } = this;
    void channels.listen('shell', (message) => {
      this.queue.push({ ...message, channel: 'shell', isAborted: false });
      void this.next();
    });
    void channels.listen(
      'control',
      (message) => void this.handle({ ...message, channel: 'control', isAborted: false }),
    );
    void channels.listen('stdin', (message) => this.takeInput(message));
    process.removeAllListeners('SIGINT'); // of the command line, which ends at the second
    process.on('SIGINT', () => void this.interrupt());
    await channels.publish('status', { execution_state: 'starting' }, null);
    const unwatch = watchParent(() => this.finished());
    await this.done;
    unwatch();
    await this.session.dispose();
    this.language.dispose();
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
      const failure = { ename: name, evalue: message, traceback: [`${name}: ${message}`] };
      const counted = header.msg_type === 'execute_request' ? { execution_count: this.count } : {};
      const content = { status: 'error', ...counted, ...failure };
      await channels.reply(channel, header.msg_type.replace(/_request$/, '_reply'), content, request);
    }
    await channels.publish('status', { execution_state: 'idle' }, header);
    if (header.msg_type === 'shutdown_request') this.finished();
  }

  private async answer(request: Request): Promise<Answer> {
    const { header, content } = request;
    const fields = new Fields(request);
    switch (header.msg_type) {
      case 'kernel_info_request':
        return kernelInfo();
      case 'execute_request':
        // The specification gives an execute_reply its count "regardless of status".
        return request.isAborted ? { status: 'aborted', execution_count: this.count } : this.execute(request, fields);
      case 'complete_request':
        return this.language.complete(fields.text('code'), fields.cursor('cursor_pos'));
      case 'inspect_request':
        return this.language.inspect(fields.text('code'), fields.cursor('cursor_pos'));
      case 'is_complete_request':
        return this.isComplete(fields.text('code'));
      case 'history_request':
        fields.oneOf('hist_access_type', ['range', 'tail', 'search']);
        return { status: 'ok', history: this.history.select(content) };
      case 'comm_info_request':
        return { status: 'ok', comms: {} };
      case 'comm_open':
        await this.channels.publish('comm_close', { comm_id: content.comm_id, data: {} }, header);
        return null;
      case 'debug_request':
        return noDebugger(content);
      case 'interrupt_request':
        await this.interrupt();
        return { status: 'ok' };
      case 'shutdown_request': {
        const answer = { status: 'ok', restart: fields.flag('restart', false) };
        await this.channels.publish('shutdown_reply', answer, header);
        return answer;
      }
      default:
        return null;
    }
  }

  /** The compiler is loaded when somebody first asks, as starting must be quick. */
  private async isComplete(code: string): Promise<Answer> {
    const { isComplete } = await import('./is-complete.ts');
    return isComplete(code);
  }

  private async execute(request: Request, fields: Fields): Promise<Content> {
    const { header, metadata } = request;
    const code = fields.text('code');
    const isSilent = fields.flag('silent', false);
    const isStored = fields.flag('store_history', !isSilent) && !isSilent;
    const stopsOnError = fields.flag('stop_on_error', true);
    const allowsStdin = fields.flag('allow_stdin', false);
    const expressions = fields.texts('user_expressions');
    if (isStored) this.count += 1;
    const count = this.count;
    const publish = (type: string, body: Content): void => {
      if (!isSilent) void this.channels.publish(type, body, header);
    };
    publish('execute_input', { code, execution_count: count });
    if (isStored) this.history.add(count, code);

    const name = askedName(code);
    if (name !== null) {
      const page = await this.language.page(name);
      if (page === null) publish('stream', { name: 'stderr', text: `Nothing is known of "${name}".\n` });
      const payload = page === null ? [] : [{ source: 'page', data: page, start: 0 }];
      return { status: 'ok', execution_count: count, user_expressions: {}, payload };
    }

    this.executing = { request, allowsStdin };
    const id = typeof metadata.cellId === 'string' ? metadata.cellId : `in-${count}`;
    const outcome = await this.session.run({ id, source: code }, shower(publish));
    this.executing = null;
    if (outcome.status !== 'ok') {
      const failure = failureContent(outcome);
      publish('error', failure);
      if (stopsOnError) await this.abortQueued();
      return { status: 'error', execution_count: count, ...failure };
    }
    if (!isSilent) this.language.remember(id, code);
    if (outcome.value) {
      publish('execute_result', { execution_count: count, data: outcome.value, metadata: {} });
      if (isStored) this.history.setOutput(count, String(outcome.value['text/plain']));
    }
    const values = await this.evaluate(expressions);
    return { status: 'ok', execution_count: count, user_expressions: values, payload: [] };
  }

  private async evaluate(expressions: readonly [name: string, source: string][]): Promise<Content> {
    const results: Record<string, unknown> = {};
    for (const [name, source] of expressions) {
      const outcome = await this.session.run({ id: name, source }, () => undefined);
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

  /** Puts a question of the running cell to the client that asked for it. */
  ask({ text, isSecret }: Prompt): Promise<string | null> {
    const { executing } = this;
    if (!executing?.allowsStdin) return Promise.resolve(null);
    void this.channels.reply('stdin', 'input_request', { prompt: text, password: isSecret }, executing.request);
    return new Promise((answer) => (this.waitingInput = answer));
  }

  /** An answer counts from the client that was asked. */
  private takeInput({ header, content, identities }: Message): void {
    const asked = this.executing?.request.identities;
    const isAsked =
      asked?.length === identities.length && asked.every((part, index) => part.equals(identities[index]!));
    if (header.msg_type !== 'input_reply' || !isAsked) return;
    this.answerInput(typeof content.value === 'string' ? content.value : null);
  }

  private answerInput(text: string | null): void {
    this.waitingInput?.(text);
    this.waitingInput = null;
  }
}
