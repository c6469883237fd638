import { fork, type ChildProcess } from 'node:child_process';
import { join } from 'node:path';
import { companionEntry } from './find-package.ts';
import { messagesVersion, type Ready, type Role } from './messages.ts';

export interface CompanionOptions {
  readonly role: Role;
  /** Folder of the `upneck` package. */
  readonly packageFolder: string;
  /** The program `node`, on the PATH or by its path. */
  readonly node: string;
  /** Takes every message but the first. */
  readonly receive: (message: unknown) => void;
  /** Called once, when the process is gone, with the reason in words. */
  readonly ended: (reason: string) => void;
}

/** A process of the `upneck` package beside the editor. What is sent before it is ready waits. */
export class Companion {
  private readonly child: ChildProcess;
  private waiting: object[] | null = [];
  private errorText = '';
  private isOver = false;

  constructor(private readonly options: CompanionOptions) {
    const { role, packageFolder, node } = options;
    const env = { ...process.env };
    // Those are the editor's own; Node started by a cell should not heed them.
    for (const name of Object.keys(env)) if (/^(VSCODE_|ELECTRON_|NODE_OPTIONS$)/.test(name)) delete env[name];
    this.child = fork(join(packageFolder, companionEntry), [role], {
      cwd: packageFolder,
      execPath: node,
      execArgv: [],
      env,
      silent: true,
    });
    this.child.stderr!.on('data', (chunk: Buffer) => {
      this.errorText = (this.errorText + chunk.toString()).slice(-5000);
    });
    this.child.on('message', (message) => this.take(message));
    this.child.on('error', (error: NodeJS.ErrnoException) =>
      this.over(
        error.code === 'ENOENT'
          ? `the program "${node}" was not found; install Node 20.19 or later, or put its path into the setting "upneck.node"`
          : error.message,
      ),
    );
    this.child.on('exit', (status, signal) => {
      const how = signal ? `by ${signal}` : `with code ${status}`;
      this.over(`its process ended ${how}${this.errorText === '' ? '' : `\n${this.errorText.trim()}`}`);
    });
  }

  send(message: object): void {
    if (this.isOver) return;
    if (this.waiting) this.waiting.push(message);
    else this.child.send(message);
  }

  /** Ends the process, which ends what it has started. */
  dispose(): void {
    this.isOver = true;
    if (this.child.connected) this.child.disconnect();
    else this.child.kill();
  }

  private take(message: unknown): void {
    if (this.isOver) return;
    const { waiting } = this;
    if (waiting === null) return this.options.receive(message);
    const { version } = message as Ready;
    if (version !== messagesVersion) {
      this.over(
        `the upneck package in ${this.options.packageFolder} does not fit this extension (${version}, expected ${messagesVersion}); install both in the same version`,
      );
      return this.dispose();
    }
    this.waiting = null;
    for (const early of waiting) this.child.send(early);
  }

  private over(reason: string): void {
    if (this.isOver) return;
    this.isOver = true;
    this.options.ended(reason);
  }
}
