import { progressType, type Progress, type Shown } from '../../kernel/protocol.ts';
import type { Outcome } from '../../kernel/session.ts';
import type { MimeBundle } from '../../notebook/cell.ts';
import { traceback } from '../../notebook/output.ts';
import { protocolVersion, type Content } from './wire.ts';

/** Translates what a session shows into publications. */
export function shower(publish: (type: string, body: Content) => void): (bundle: MimeBundle, shown: Shown) => void {
  const begun = new Set<string>();
  return (bundle, { kind, id, update, waits }) => {
    switch (kind) {
      case 'stdout':
      case 'stderr':
        return publish('stream', { name: kind, text: bundle['text/plain'] });
      case 'clear':
        return publish('clear_output', { wait: waits === true });
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

export function failureContent(outcome: Exclude<Outcome, { status: 'ok' }>): Content {
  if (outcome.status === 'interrupted')
    return { ename: 'Interrupted', evalue: 'the cell was stopped', traceback: ['Interrupted: the cell was stopped'] };
  const { failure } = outcome.error;
  return { ename: failure.name, evalue: failure.message, traceback: traceback(failure) };
}

export function kernelInfo(): Content {
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

/** Answers a debug_request: a response of the Debug Adapter Protocol, as kernel_info_reply declares no debugger. */
export function noDebugger({ seq, command }: Content): Content {
  const message = 'This kernel has no debugger';
  return { seq: 0, type: 'response', request_seq: seq ?? 0, success: false, command: command ?? '', message };
}
