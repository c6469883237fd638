import type { MimeBundle } from '../notebook/cell.ts';
import type { CellFailure } from '../notebook/output.ts';

/** What a shown bundle is for. Clients that only know displays may ignore it. */
export interface Shown {
  readonly kind: 'display' | 'stdout' | 'stderr' | 'progress' | 'clear';
  /** Displays and progress with the same id replace one another. */
  readonly id?: string;
  /** True when the output with this id is to be replaced wherever it stands, and nothing is to be added. */
  readonly update?: boolean;
  /** For `clear`: true when what is shown stays until there is something to put in its place. */
  readonly waits?: boolean;
}

/** Progress of a cell, in the bundle of a `progress` output under this type. */
export const progressType = 'application/vnd.upneck.progress+json';

export interface Progress {
  readonly done: number;
  readonly total: number;
  readonly label: string;
}

/** Values every cell sees by name, such as `parameters`. */
export type Values = Readonly<Record<string, unknown>>;

/** A question a cell puts to the person who runs it. */
export interface Prompt {
  readonly text: string;
  /** Whether the answer is not to be seen as it is typed. */
  readonly isSecret: boolean;
}

export type ToProcess =
  | { readonly type: 'start'; readonly folder: string; readonly values: Values }
  | { readonly type: 'run'; readonly run: number; readonly cell: string; readonly source: string }
  | { readonly type: 'interrupt'; readonly run: number }
  | { readonly type: 'answer'; readonly question: number; readonly text: string | null }
  | { readonly type: 'kill' };

export type Ended =
  | { readonly status: 'ok'; readonly value: MimeBundle | null }
  | { readonly status: 'error'; readonly failure: CellFailure }
  | { readonly status: 'interrupted' };

export type FromProcess =
  | { readonly type: 'ready' }
  | { readonly type: 'show'; readonly run: number; readonly bundle: MimeBundle; readonly shown: Shown }
  | { readonly type: 'ask'; readonly run: number; readonly question: number; readonly prompt: Prompt }
  | { readonly type: 'interrupted'; readonly run: number }
  | { readonly type: 'ended'; readonly run: number; readonly outcome: Ended };
