// SPDX-License-Identifier: GPL-3.0-or-later
// The page begins: what it carries is unpacked, Workers are made of it, and the last scene comes back.
import { render } from 'preact';
import { Core } from '../core/client.js';
import { browserKeep } from '../state/keep.js';
import { browserPhotoKeep } from '../state/photo.js';
import { Model } from '../state/model.js';
import { startScene } from '../state/starts.js';
import { scenes, style, version } from 'carried';
import { App } from './App.jsx';
import { carried } from './packed.js';


// The core is compiled while it is unpacked, and the page stands before it is.
async function makeWorkers() {
  const code = await new Response(carried('worker')).blob();
  const url = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
  const module = await WebAssembly.compileStreaming(new Response(carried('core'), { headers: { 'content-type': 'application/wasm' } }));
  return { url, module };
}

function begin() {
  const data = { scenes, version }, keep = browserKeep(), sheet = new CSSStyleSheet();
  sheet.replaceSync(style);
  document.adoptedStyleSheets = [sheet];
  const lamps = Object.fromEntries(Object.entries(data.scenes).filter(([name]) => name.endsWith('.ies')));
  let made = null;
  const make = async () => { const { url, module } = await (made ??= makeWorkers()); return { worker: new Worker(url), module, files: { ...lamps } }; };
  let model = null;
  const stopped = () => { if (model) { model.trouble = 'The sums stopped. The scene is kept; they start again.'; model.changed(); } };
  const most = Math.max(1, Math.min(4, navigator.hardwareConcurrency ?? 2));
  const slow = Array.from({ length: most }, () => new Core(make, stopped));
  let turn = 0;
  const kept = keep.read('scene');
  const core = new Core(make, stopped), drawing = new Core(make, stopped);
  model = new Model({ keep, photoKeep: browserPhotoKeep(), core, drawing, slow: (n) => slow[(n ?? turn++) % most], cores: [core, drawing, ...slow], lamps,
    scene: kept ?? startScene('The cellar', data.scenes) });
  document.getElementById('app').replaceChildren();
  render(<App model={model} data={data} first={kept === null} />, document.getElementById('app'));
  document.documentElement.dataset.ready = 'shell';
  globalThis.veilstop = model; // for tests, and for the curious
  requestAnimationFrame(() => setTimeout(() => { performance.mark('usable'); model.start(); })); // first what can be seen
}
try { begin(); } catch (e) { document.querySelector('#app').textContent = `veilstop could not start: ${e.message}`; }
