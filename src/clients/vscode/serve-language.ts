import { Intelligence } from '../../kernel/intelligence.ts';
import {
  messagesVersion,
  type Answers,
  type FromLanguage,
  type NotebookState,
  type Question,
  type ToLanguage,
} from './messages.ts';

/** Answers the extension's questions about TypeScript in notebooks, each from the notebook it comes with. */
export function serve(): void {
  const open = new Map<string, { readonly intelligence: Intelligence; readonly options: string }>();

  const understand = ({ key, folder, parameters, cells }: NotebookState): Intelligence => {
    const options = JSON.stringify([folder, parameters]);
    let known = open.get(key);
    if (known?.options !== options) {
      known?.intelligence.dispose();
      known = { intelligence: new Intelligence({ folder, parameters: { ...parameters } }), options };
      open.set(key, known);
    }
    known.intelligence.update(cells);
    return known.intelligence;
  };
  const answer = (question: Question): Answers[keyof Answers] => {
    switch (question.ask) {
      case 'problems':
        return understand(question.notebook).problems();
      case 'completions':
        return understand(question.notebook).completions(question.cell, question.offset);
      case 'hover':
        return understand(question.notebook).hover(question.cell, question.offset);
      case 'close':
        open.get(question.key)?.intelligence.dispose();
        open.delete(question.key);
        return null;
    }
  };
  const send = (message: FromLanguage): void => void process.send!(message);
  process.on('message', (message) => {
    const { request, question } = message as ToLanguage;
    try {
      send({ type: 'answer', request, answer: answer(question) });
    } catch (error) {
      send({ type: 'failed', request, message: error instanceof Error ? error.message : String(error) });
    }
  });
  send({ type: 'ready', version: messagesVersion });
}
