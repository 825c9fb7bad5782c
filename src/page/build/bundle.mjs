// SPDX-License-Identifier: GPL-3.0-or-later
// node bundle.mjs NODE_MODULES CORE.wasm OUT.html: one page that carries everything, packed with gzip but for
// the lines that unpack it.
import { createRequire } from 'node:module';
import { readdirSync, readFileSync, writeFileSync, renameSync } from 'node:fs';
import { createHash } from 'node:crypto';
import { gzipSync } from 'node:zlib';
import { join, resolve } from 'node:path';

const [modules, wasm, out] = process.argv.slice(2);
const here = new URL('..', import.meta.url).pathname;
const root = resolve(here, '../..');
const esbuild = createRequire(resolve(modules, 'x.js'))('esbuild');

const bundle = async (entry, format) => {
  const built = await esbuild.build({
    entryPoints: [join(here, entry)], bundle: true, write: false, format, minify: true,
    target: 'es2022', jsx: 'automatic', jsxImportSource: 'preact', legalComments: 'none',
    nodePaths: [modules], logLevel: 'warning', charset: 'utf8',
  });
  return built.outputFiles[0].text;
};
const style = async () => (await esbuild.build({
  entryPoints: [join(here, 'shell/style.css')], bundle: true, write: false, minify: true, logLevel: 'warning',
})).outputFiles[0].text;

const scenes = {};
for (const f of readdirSync(join(root, 'data/demo'))) scenes[f] = readFileSync(join(root, 'data/demo', f), 'utf8');
const data = JSON.stringify({ scenes, version: process.env.VERSION ?? '' });

const base64 = (bytes) => gzipSync(bytes, { level: 9 }).toString('base64');
const part = {
  STYLE: await style(),
  BOOT: (await bundle('shell/boot.js', 'iife')).trim(),
  APP: base64(await bundle('shell/main.jsx', 'iife')),
  WORKER: base64(await bundle('core/worker.js', 'iife')),
  CORE: base64(readFileSync(wasm)),
  DATA: data.replaceAll('<', '\\u003c'),
};
// Nothing runs and nothing is painted but what this build wrote.
const hash = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
part.SCRIPTHASH = hash(part.BOOT);
part.STYLEHASH = hash(part.STYLE);
const html = readFileSync(join(here, 'shell/page.html'), 'utf8').replace(/@([A-Z]+)@/g, (_, key) => part[key]);
writeFileSync(out + '.new', html);
renameSync(out + '.new', out);
const kb = (n) => (n / 1000).toFixed(0) + ' kB';
console.log(`${out}: ${kb(Buffer.byteLength(html))} (core ${kb(part.CORE.length)}, Worker ${kb(part.WORKER.length)}, page ${kb(part.APP.length)}, style ${kb(part.STYLE.length)}, scenes ${kb(part.DATA.length)})`);
