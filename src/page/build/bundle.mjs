// SPDX-License-Identifier: GPL-3.0-or-later
// node bundle.mjs NODE_MODULES CORE.wasm OUT.html: one page that carries everything, packed with gzip but for
// the lines that unpack it.
import { createRequire } from 'node:module';
import { readdirSync, readFileSync, writeFileSync, renameSync } from 'node:fs';
import { createHash } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { join, resolve } from 'node:path';
import { packText } from '../shell/packed.js';

const [modules, wasm, out] = process.argv.slice(2);
const here = new URL('..', import.meta.url).pathname;
const root = resolve(here, '../..');
const esbuild = createRequire(resolve(modules, 'x.js'))('esbuild');

const scenes = {};
for (const f of readdirSync(join(root, 'data/demo'))) scenes[f] = readFileSync(join(root, 'data/demo', f), 'utf8');
const style = async (file) => (await esbuild.build({
  entryPoints: [join(here, file)], bundle: true, write: false, minify: true, logLevel: 'warning',
})).outputFiles[0].text.trim();
// What the page's code carries besides: import { scenes, style, version } from 'carried'.
const carried = {
  name: 'carried',
  setup(build) {
    build.onResolve({ filter: /^carried$/ }, ({ path }) => ({ path, namespace: 'carried' }));
    build.onLoad({ filter: /.*/, namespace: 'carried' }, async () => ({
      contents: JSON.stringify({ scenes, style: await style('shell/style.css'), version: process.env.VERSION ?? '' }), loader: 'json',
    }));
  },
};
const bundle = async (entry) => (await esbuild.build({
  entryPoints: [join(here, entry)], bundle: true, write: false, format: 'iife', minify: true,
  target: 'es2022', jsx: 'automatic', jsxImportSource: 'preact', legalComments: 'none',
  nodePaths: [modules], plugins: [carried], logLevel: 'warning', charset: 'utf8',
})).outputFiles[0].text;

const packed = (bytes) => packText(gzipSync(bytes, { level: 9 }));
const part = {
  STYLE: await style('shell/first.css'),
  BOOT: (await bundle('shell/boot.js')).trim(),
  APP: packed(await bundle('shell/main.jsx')),
  WORKER: packed(await bundle('core/worker.js')),
  CORE: packed(readFileSync(wasm)),
};
// Nothing runs and nothing is painted but what this build wrote.
const hash = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
part.SCRIPTHASH = hash(part.BOOT);
part.STYLEHASH = hash(part.STYLE);
const html = readFileSync(join(here, 'shell/page.html'), 'utf8').replace(/@([A-Z]+)@/g, (_, key) => part[key]);
writeFileSync(out + '.new', html);
renameSync(out + '.new', out);
const kb = (text) => (Buffer.byteLength(text) / 1000).toFixed(0) + ' kB';
console.log(`${out}: ${kb(html)} (core ${kb(part.CORE)}, Worker ${kb(part.WORKER)}, page with style and scenes ${kb(part.APP)})`);
