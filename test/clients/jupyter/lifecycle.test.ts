import { execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { TestKernel } from './client.ts';

const launcher = resolve('src/clients/upneck.mjs');

function upneck(
  args: string[],
  env: NodeJS.ProcessEnv = process.env,
): Promise<{ code: number; stdout: string; stderr: string }> {
  return new Promise((done) => {
    const options = { cwd: mkdtempSync(join(tmpdir(), 'upneck-install-')), env, timeout: 30_000 };
    execFile(process.execPath, [launcher, 'kernel', ...args], options, (error, stdout, stderr) => {
      done({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch {
    return false;
  }
}

async function ends(pid: number): Promise<void> {
  while (isAlive(pid)) await new Promise((done) => setTimeout(done, 50));
}

const started: number[] = [];
afterEach(() => {
  for (const pid of started.splice(0)) if (isAlive(pid)) process.kill(pid, 'SIGKILL');
});

// jupyter_client sets JPY_PARENT_PID for the kernels it starts; others may set nothing.
test.each([
  ['its parent', ''],
  ['the process JPY_PARENT_PID names', 'named'],
])('the kernel and its session end, even amid a loop, when %s is killed', async (_what, mode) => {
  const client = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1000)'], { stdio: 'ignore' });
  const kernel =
    mode === 'named'
      ? new TestKernel({ env: { JPY_PARENT_PID: String(client.pid) } })
      : new TestKernel({ parent: 'setInterval(() => {}, 1000)' });
  const asking = await kernel.client();
  const { published } = await asking.run('`${process.pid} ${process.ppid}`');
  const [session, own] = String((published.at(-1)![1].data as Record<string, unknown>)['text/plain'])
    .split(' ')
    .map(Number) as [number, number];
  started.push(session, own);
  const loop = await asking.execute('for (;;);');
  await asking.until(() => asking.of(loop).some(({ header }) => header.msg_type === 'execute_input'));
  if (mode === 'named') client.kill('SIGKILL');
  else kernel.child.kill('SIGKILL');
  await ends(own);
  await ends(session);
  asking.close();
  client.kill('SIGKILL');
});

test('the kernel goes on when JPY_PARENT_PID names no process of this machine', async () => {
  const ended = spawn(process.execPath, ['-e', '0']);
  await once(ended, 'exit');
  const kernel = new TestKernel({ env: { JPY_PARENT_PID: String(ended.pid) } });
  started.push(kernel.child.pid!);
  const asking = await kernel.client();
  await new Promise((done) => setTimeout(done, 2500));
  expect((await asking.run('1')).reply.status).toBe('ok');
  asking.close();
});

const good = {
  transport: 'tcp',
  ip: '127.0.0.1',
  key: 'secret',
  signature_scheme: 'hmac-sha256',
  shell_port: 50_001,
  iopub_port: 50_002,
  stdin_port: 50_003,
  control_port: 50_004,
  hb_port: 50_005,
};
const address = 'an address of this machine alone, such as "127.0.0.1"';
test.each([
  ['{"transport": "tcp"', 'it is not JSON; expected a connection file as Jupyter clients write it'],
  ['[]', 'it is not an object of JSON; expected a connection file as Jupyter clients write it'],
  ['{}', 'field "transport": found nothing; expected "tcp" or "ipc"'],
  [{ transport: 'http' }, 'field "transport": found "http"; expected "tcp" or "ipc"'],
  [{ ip: '0.0.0.0' }, `field "ip": found "0.0.0.0"; expected ${address}`],
  [{ ip: '*' }, `field "ip": found "*"; expected ${address}`],
  [{ ip: '127.0.0.1.example.org' }, `field "ip": found "127.0.0.1.example.org"; expected ${address}`],
  [{ ip: 7 }, `field "ip": found 7; expected ${address}`],
  [{ key: 5 }, 'field "key": found no text; expected the key messages are signed with'],
  [{ signature_scheme: 'hmac-md5' }, 'field "signature_scheme": found "hmac-md5"; expected "hmac-sha256"'],
  [{ hb_port: '50005' }, 'field "hb_port": found "50005"; expected a whole number from 1 to 65535'],
  [{ shell_port: 0 }, 'field "shell_port": found 0; expected a whole number from 1 to 65535'],
  [{ stdin_port: 50_001 }, 'field "stdin_port": found 50001; expected another number than "shell_port"'],
])('kernel run refuses the connection file %j and names file and field', async (change, message) => {
  const file = join(mkdtempSync(join(tmpdir(), 'upneck-connection-')), 'c.json');
  writeFileSync(file, typeof change === 'string' ? change : JSON.stringify({ ...good, ...change }));
  expect(await upneck(['run', file])).toEqual({
    code: 1,
    stdout: '',
    stderr: `upneck kernel: ${file}: ${message}\n`,
  });
});

test('kernel run ends with the address and the field when a port is taken', async () => {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  const file = join(mkdtempSync(join(tmpdir(), 'upneck-connection-')), 'c.json');
  const folder = mkdtempSync(join(tmpdir(), 'upneck-free-'));
  writeFileSync(file, JSON.stringify({ ...good, transport: 'ipc', ip: join(folder, 'nowhere', 'k') }));
  const { code, stderr } = await upneck(['run', file]);
  expect({ code, stderr }).toMatchObject({ code: 1, stderr: expect.stringContaining('("shell_port")') as string });

  const free = [1, 2, 3, 4].map((step) => 20_000 + ((port + step * 7919) % 20_000)) as [number, number, number, number];
  const [shell_port, iopub_port, stdin_port, control_port] = free;
  const ports = { shell_port, iopub_port, stdin_port, control_port, hb_port: port };
  writeFileSync(file, JSON.stringify({ ...good, ...ports }));
  const taken = await upneck(['run', file]);
  expect(taken.code).toBe(1);
  expect(taken.stderr).toContain(`Cannot listen on tcp://127.0.0.1:${port} ("hb_port")`);
  expect(taken.stderr).toContain('Address already in use');
  server.close();
});

test('kernel run says that there is no connection file', async () => {
  const { code, stderr } = await upneck(['run', '/nowhere/c.json']);
  expect(code).toBe(2);
  expect(stderr).toContain('there is no connection file "/nowhere/c.json"');
});

test('kernel install writes the kernelspec where its options say', async () => {
  const home = mkdtempSync(join(tmpdir(), 'upneck-home-'));
  const env = { PATH: process.env.PATH, HOME: home, XDG_DATA_HOME: join(home, 'share') };
  const user = join(home, 'share/jupyter/kernels');
  const places: [string[], NodeJS.ProcessEnv, string][] = [
    [[], env, `${user}/upneck`],
    [['--user', '--name', 'Own-1.x', '--display-name', 'Ours'], env, `${user}/own-1.x`],
    [['--user'], { ...env, JUPYTER_DATA_DIR: join(home, 'j') }, join(home, 'j/kernels/upneck')],
    [['--sys-prefix'], { ...env, VIRTUAL_ENV: join(home, 'env') }, join(home, 'env/share/jupyter/kernels/upneck')],
    [['--prefix', join(home, 'p')], env, join(home, 'p/share/jupyter/kernels/upneck')],
  ];
  for (const [args, environment, folder] of places) {
    const { code, stderr } = await upneck(['install', ...args], environment);
    expect({ code, stderr }).toEqual({ code: 0, stderr: `Wrote ${folder}/kernel.json\n` });
    expect(JSON.parse(readFileSync(join(folder, 'kernel.json'), 'utf8'))).toMatchObject({
      argv: [process.execPath, launcher, 'kernel', 'run', '{connection_file}'],
      display_name: args.includes('Ours') ? 'Ours' : 'Upneck',
      language: 'typescript',
      interrupt_mode: 'message',
    });
  }
});

test('kernel install refuses what it cannot do', async () => {
  const refusal = async (...args: string[]): Promise<string> => {
    const { code, stderr } = await upneck(['install', ...args], { PATH: process.env.PATH });
    expect(code).toBe(2);
    return stderr.split('\n')[0]!;
  };
  expect(await refusal('--name', '../up')).toBe(
    'upneck kernel: found the name "../up"; expected letters a to z, digits, - . and _',
  );
  expect(await refusal('--user', '--prefix', '/p')).toBe(
    'upneck kernel: found several places; expected one of --user, --sys-prefix, --prefix',
  );
  expect(await refusal('--sys-prefix')).toBe(
    'upneck kernel: no Python environment is active (VIRTUAL_ENV, CONDA_PREFIX); activate one, or give --prefix DIR',
  );
});
