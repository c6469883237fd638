// `node test/real/install-workbench.mjs FOLDER` puts the web server of VS Code, from the npm package code-server, into a
// folder outside the repository, for test/real/vscode.test.ts: set UPNECK_VSCODE to the folder. No install script is run,
// and nothing is left that would ask a gallery or send telemetry. A folder that holds it already is left as it is.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';

/** The newest that runs on Node 20. */
const version = '4.100.3';

const [argument] = process.argv.slice(2);
if (argument === undefined) {
  console.error('Say where to: node test/real/install-workbench.mjs FOLDER');
  process.exit(2);
}
const target = resolve(argument);
const installed = join(target, 'node_modules/code-server/package.json');
if (existsSync(installed) && JSON.parse(readFileSync(installed, 'utf8')).version === version) {
  console.log(`${target} holds code-server ${version} already`);
  process.exit();
}
if (existsSync(target)) {
  console.error(`${target} exists and holds no code-server ${version}; name another folder, or remove it first`);
  process.exit(1);
}

// Beside it first: an interrupted installation leaves no half of one.
const part = `${target}.part`;
rmSync(part, { recursive: true, force: true });
mkdirSync(part, { recursive: true });
writeFileSync(join(part, 'package.json'), '{ "private": true }\n');
const install = (...more) => {
  const quiet = ['--ignore-scripts', '--no-audit', '--no-fund', '--loglevel=error'];
  execFileSync('npm', ['install', ...quiet, ...more], { cwd: part, stdio: 'inherit' });
};
install(`code-server@${version}`);
const server = 'node_modules/code-server/lib/vscode';
install('--omit=dev', '--prefix', server);
install('--omit=dev', '--prefix', `${server}/extensions`);
const product = JSON.parse(readFileSync(join(part, server, 'product.json'), 'utf8'));
delete product.extensionsGallery;
delete product.telemetryEndpoint;
writeFileSync(join(part, server, 'product.json'), JSON.stringify({ ...product, enableTelemetry: false }));
renameSync(part, target);
console.log(`Installed code-server ${version} into ${target}`);
