// Packs the extension: `npm run vsix` writes out/upneck-VERSION.vsix, `npm run vsix -- FILE` another file. It is a zip
// file after the Open Packaging Conventions (ECMA-376, part 2), with the manifest that editors read.
import { readFile, readdir } from 'node:fs/promises';
import { resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';
import { zipSync } from 'fflate';
import { writeWhole } from '../write-whole.ts';

const root = new URL('../../../', import.meta.url);
const own = new URL('./package/', import.meta.url);

/** Types of the files in the package, by the ends of their names. */
const types: Record<string, string> = {
  json: 'application/json',
  js: 'application/javascript',
  css: 'text/css',
  md: 'text/markdown',
  txt: 'text/plain',
  vsixmanifest: 'text/xml',
};

interface Manifest {
  readonly name: string;
  readonly displayName: string;
  readonly description: string;
  readonly publisher: string;
  readonly engines: { readonly vscode: string };
  readonly categories: readonly string[];
  readonly extensionKind: readonly string[];
}

interface Bundle {
  readonly script: Uint8Array;
  /** Licences of the packages the script is made of. */
  readonly notices: string;
}

/** The extension as one CommonJS file that needs nothing but Node and the editor. */
async function bundle(): Promise<Bundle> {
  const { outputFiles, metafile } = await build({
    absWorkingDir: fileURLToPath(root),
    entryPoints: [fileURLToPath(new URL('./extension.ts', import.meta.url))],
    bundle: true,
    platform: 'node',
    format: 'cjs',
    target: 'node20',
    external: ['vscode'],
    minify: true,
    legalComments: 'none',
    metafile: true,
    write: false,
  });
  const inputs = Object.keys(metafile.inputs).map((path) => /^node_modules\/(?:@[^/]+\/)?[^/]+(?=\/)/.exec(path)?.[0]);
  const folders = [...new Set(inputs.filter((folder) => folder !== undefined))].sort();
  const notices = await Promise.all(folders.map(notice));
  return { script: outputFiles[0]!.contents, notices: `${notices.join('\n\n')}\n` };
}

async function notice(folder: string): Promise<string> {
  const url = new URL(`${folder}/`, root);
  const name = (await readdir(url)).find((name) => /^licen[cs]e/i.test(name));
  if (name === undefined) throw new Error(`${folder} has no file with its licence; expected one named LICENSE`);
  const text = await readFile(new URL(name, url), 'utf8');
  return `# ${folder.replace('node_modules/', '')}\n\n${text.trim()}`;
}

async function files(version: string): Promise<Map<string, Uint8Array>> {
  const manifest = JSON.parse(await readFile(new URL('package.json', own), 'utf8')) as Manifest;
  const found = new Map<string, Uint8Array>();
  found.set('[Content_Types].xml', Buffer.from(contentTypes()));
  found.set('extension.vsixmanifest', Buffer.from(vsixManifest(manifest, version)));
  for (const name of await readdir(own)) found.set(`extension/${name}`, await readFile(new URL(name, own)));
  found.set('extension/package.json', Buffer.from(`${JSON.stringify({ ...manifest, version }, null, 2)}\n`));
  const { script, notices } = await bundle();
  found.set('extension/extension.js', script);
  found.set('extension/third-party-licenses.txt', Buffer.from(notices));
  found.set('extension/page.css', await readFile(new URL('shared/page.css', root)));
  found.set('extension/LICENSE.txt', await readFile(new URL('LICENSE', root)));
  return found;
}

function contentTypes(): string {
  const defaults = Object.entries(types).map(([end, type]) => `<Default Extension=".${end}" ContentType="${type}"/>`);
  return `<?xml version="1.0" encoding="utf-8"?>
<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">${defaults.join('')}</Types>
`;
}

function vsixManifest(manifest: Manifest, version: string): string {
  const { name, displayName, description, publisher, engines, categories, extensionKind } = manifest;
  return `<?xml version="1.0" encoding="utf-8"?>
<PackageManifest Version="2.0.0" xmlns="http://schemas.microsoft.com/developer/vsx-schema/2011">
  <Metadata>
    <Identity Language="en-US" Id="${name}" Version="${version}" Publisher="${publisher}"/>
    <DisplayName>${xml(displayName)}</DisplayName>
    <Description xml:space="preserve">${xml(description)}</Description>
    <Categories>${categories.map(xml).join(',')}</Categories>
    <Properties>
      <Property Id="Microsoft.VisualStudio.Code.Engine" Value="${xml(engines.vscode)}"/>
      <Property Id="Microsoft.VisualStudio.Code.ExtensionKind" Value="${extensionKind.join(',')}"/>
    </Properties>
    <License>extension/LICENSE.txt</License>
  </Metadata>
  <Installation><InstallationTarget Id="Microsoft.VisualStudio.Code"/></Installation>
  <Dependencies/>
  <Assets>
    <Asset Type="Microsoft.VisualStudio.Code.Manifest" Path="extension/package.json" Addressable="true"/>
    <Asset Type="Microsoft.VisualStudio.Services.Content.Details" Path="extension/README.md" Addressable="true"/>
    <Asset Type="Microsoft.VisualStudio.Services.Content.License" Path="extension/LICENSE.txt" Addressable="true"/>
  </Assets>
</PackageManifest>
`;
}

function xml(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}

const { version } = JSON.parse(await readFile(new URL('package.json', root), 'utf8')) as { version: string };
const target = resolve(process.argv[2] ?? fileURLToPath(new URL(`out/upneck-${version}.vsix`, root)));
// The same files make the same package, whenever it is packed.
await writeWhole(target, zipSync(Object.fromEntries(await files(version)), { mtime: new Date(1980, 0, 1) }));
process.stdout.write(`Wrote ${target}\n`);
