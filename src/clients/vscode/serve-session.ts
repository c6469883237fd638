import { startSession, type Session } from '../../kernel/session.ts';
import { messagesVersion, type FromSession, type ToSession } from './messages.ts';

/** Serves one session to the extension that started this process. */
export function serve(): void {
  let session: Session | null = null;
  let questions = 0;
  const waiting = new Map<number, (text: string | null) => void>();
  const send = (message: FromSession): void => void process.send!(message);

  const take = async (message: ToSession): Promise<void> => {
    switch (message.type) {
      case 'open': {
        const { folder, values } = message;
        session = startSession({
          folder,
          values,
          ask: (prompt) => {
            questions += 1;
            send({ type: 'ask', question: questions, prompt });
            return new Promise((answer) => waiting.set(questions, answer));
          },
        });
        return;
      }
      case 'run': {
        const { run, cell } = message;
        const outcome = await session!.run(cell, (bundle, shown) => send({ type: 'show', run, bundle, shown }));
        const ended =
          outcome.status === 'error' ? ({ status: 'error', failure: outcome.error.failure } as const) : outcome;
        send({ type: 'ended', run, outcome: ended });
        return;
      }
      case 'interrupt':
        await session!.interrupt();
        send({ type: 'interrupted', request: message.request });
        return;
      case 'answer':
        waiting.get(message.question)?.(message.text);
        waiting.delete(message.question);
        return;
    }
  };
  process.on('message', (message) => void take(message as ToSession));
  send({ type: 'ready', version: messagesVersion });
}
