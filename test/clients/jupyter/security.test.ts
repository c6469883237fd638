import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, readlinkSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { parseHTML } from 'linkedom';
import { expect, onTestFinished, test } from 'vitest';
import { toIpynb } from '../../../src/notebook/ipynb.ts';
import { parseLitMd } from '../../../src/notebook/lit-md.ts';
import { TestKernel } from './client.ts';

const evil = '<img src=x onerror=alert(1)>';

/** The demo shop with a model of a hostile name, and the house standard's notebook that reads it. */
function hostileShop(): string[] {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-hostile-'));
  mkdirSync(join(folder, 'demo'));
  for (const name of readdirSync('data/demo').filter((file) => /\.[ct]sv$/.test(file)))
    writeFileSync(
      join(folder, 'demo', name),
      Buffer.from(readFileSync(join('data/demo', name), 'latin1').replaceAll('Larch 6', evil), 'latin1'),
    );
  const notebook = parseLitMd(readFileSync('notebooks/house-standard.lit.md', 'utf8'));
  const parameters = notebook.metadata.parameters as Record<string, unknown>;
  const usage = { path: resolve('notebooks', (parameters.usage as { path: string }).path) };
  const changed = { ...parameters, logs: { path: join(folder, 'demo') }, usage };
  const shown = {
    notebook: { cells: notebook.cells, metadata: { parameters: changed } },
    outputs: new Map(),
    counts: new Map(),
  };
  const { cells } = JSON.parse(toIpynb(shown)) as { cells: { cell_type: string; source: string[] }[] };
  return cells.filter((cell) => cell.cell_type === 'code').map(({ source }) => source.join(''));
}

test(
  'a model named as a hostile tag stays text in all that the house standard shows and writes',
  { timeout: 240_000 },
  async () => {
    const cells = hostileShop();
    const kernel = new TestKernel();
    onTestFinished(() => void kernel.child.kill('SIGKILL'));
    const client = await kernel.client();
    const markup: string[] = [];
    for (const code of [...cells, `progress(1, 2, ${JSON.stringify(evil)})`]) {
      const { reply, published } = await client.run(code);
      expect(reply, code).toMatchObject({ status: 'ok' });
      for (const [, { data }] of published)
        for (const [type, content] of Object.entries((data ?? {}) as Record<string, unknown>)) {
          expect(['text/plain', 'text/html', 'image/svg+xml', 'application/json']).toContain(type);
          if (type === 'text/html' || type === 'image/svg+xml') markup.push(String(content));
        }
    }
    client.close();
    const out = join(kernel.folder, 'out');
    const pages = readdirSync(out).filter((name) => name.endsWith('.html'));
    expect(pages).toContain('bench-card.html');
    markup.push(...pages.map((name) => readFileSync(join(out, name), 'utf8')));

    const told = markup.filter((text) => {
      const { document } = parseHTML(
        text.includes('<html') ? text : `<!doctype html><html><body>${text}</body></html>`,
      );
      const running = [...document.querySelectorAll('*')].filter(({ attributes }) =>
        [...attributes].some(({ name }) => name.startsWith('on')),
      );
      expect(
        [...document.querySelectorAll('img, script, iframe, object, embed'), ...running],
        text.slice(0, 500),
      ).toEqual([]);
      return document.body.textContent.includes(evil);
    });
    expect(told.length).toBeGreaterThan(4);
  },
);

test.skipIf(process.platform !== 'linux')('the kernel listens on this machine alone', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-ports-'));
  const ports = await Promise.all([1, 2, 3, 4, 5].map(freePort));
  const [shell_port, iopub_port, stdin_port, control_port, hb_port] = ports;
  const file = join(folder, 'c.json');
  const basic = { transport: 'tcp', ip: '127.0.0.1', key: 'secret', signature_scheme: 'hmac-sha256' };
  writeFileSync(file, JSON.stringify({ ...basic, shell_port, iopub_port, stdin_port, control_port, hb_port }));
  const launcher = resolve('src/clients/upneck.mjs');
  const child = spawn(process.execPath, [launcher, 'kernel', 'run', file], { cwd: folder, stdio: 'inherit' });
  onTestFinished(() => void child.kill('SIGKILL'));
  let addresses: string[] = [];
  while (addresses.length < 5) {
    await new Promise((done) => setTimeout(done, 100));
    addresses = family(child.pid!).flatMap(listening);
  }
  // 127.0.0.1 as /proc/net/tcp writes it: the bytes of the address in reverse.
  const expected = ports.map((port) => `0100007F:${port.toString(16).toUpperCase().padStart(4, '0')}`);
  expect(addresses.toSorted()).toEqual(expected.toSorted());
});

function freePort(): Promise<number> {
  return new Promise((done) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo;
      server.close(() => done(port));
    });
  });
}

/** A process and all it has started. */
function family(pid: number): number[] {
  const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8')
    .trim()
    .split(' ')
    .filter((one) => one !== '');
  return [pid, ...children.flatMap((child) => family(Number(child)))];
}

/** Addresses of the TCP sockets on which a process listens. @see proc(5), /proc/net/tcp: state 0A is LISTEN */
function listening(pid: number): string[] {
  const sockets = new Set(
    readdirSync(`/proc/${pid}/fd`).flatMap((name) => {
      try {
        return /^socket:\[(\d+)\]$/.exec(readlinkSync(`/proc/${pid}/fd/${name}`))?.[1] ?? [];
      } catch {
        return []; // closed since
      }
    }),
  );
  return ['tcp', 'tcp6'].flatMap((net) => {
    const rows = readFileSync(`/proc/${pid}/net/${net}`, 'utf8').trim().split('\n').slice(1);
    return rows
      .map((row) => row.trim().split(/\s+/))
      .filter((row) => row[3] === '0A' && sockets.has(row[9]!))
      .map((row) => row[1]!);
  });
}
