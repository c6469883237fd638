import type { Completions, Hover, Problem } from '../../kernel/intelligence.ts';
import type { Ended, Prompt, Shown, Values } from '../../kernel/protocol.ts';
import type { Cell, MimeBundle } from '../../notebook/cell.ts';

// What the extension and its companions, processes of the `upneck` package that the notebook's folder reaches, say to
// one another. The number is raised when older companions would not understand.
export const messagesVersion = 1;

export type Role = 'session' | 'language';

export type ToSession =
  | { readonly type: 'open'; readonly folder: string; readonly values: Values }
  | { readonly type: 'run'; readonly run: number; readonly cell: Source }
  | { readonly type: 'interrupt'; readonly request: number }
  | { readonly type: 'answer'; readonly question: number; readonly text: string | null };

export type FromSession =
  | Ready
  | { readonly type: 'show'; readonly run: number; readonly bundle: MimeBundle; readonly shown: Shown }
  | { readonly type: 'ended'; readonly run: number; readonly outcome: Ended }
  | { readonly type: 'interrupted'; readonly request: number }
  | { readonly type: 'ask'; readonly question: number; readonly prompt: Prompt };

/** The first message of every companion. */
export interface Ready {
  readonly type: 'ready';
  readonly version: number;
}

export type Source = Pick<Cell, 'id' | 'source'>;

/** A notebook as it stands, with every question: nothing is asked of an older state. */
export interface NotebookState {
  /** Tells notebooks apart. */
  readonly key: string;
  readonly folder: string;
  readonly parameters: Values;
  readonly cells: readonly Source[];
}

export type Question =
  | { readonly ask: 'problems'; readonly notebook: NotebookState }
  | { readonly ask: 'completions'; readonly notebook: NotebookState; readonly cell: string; readonly offset: number }
  | { readonly ask: 'hover'; readonly notebook: NotebookState; readonly cell: string; readonly offset: number }
  | { readonly ask: 'close'; readonly key: string };

/** What each question is answered with. */
export interface Answers {
  readonly problems: Problem[];
  readonly completions: Completions;
  readonly hover: Hover | null;
  readonly close: null;
}

export interface ToLanguage {
  readonly request: number;
  readonly question: Question;
}

export type FromLanguage =
  | Ready
  | { readonly type: 'answer'; readonly request: number; readonly answer: Answers[keyof Answers] }
  | { readonly type: 'failed'; readonly request: number; readonly message: string };
