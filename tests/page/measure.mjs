// SPDX-License-Identifier: GPL-3.0-or-later
// How long the page takes, in Chromium on this machine: a table for docs/page.md, with the machine's load
// beside it. make bench-page
import { cpus, loadavg } from 'node:os';
import { end, go, launch, open, settled } from './browser/open.mjs';

const load = () => loadavg()[0].toFixed(1), ms = (x) => `${Math.round(x)} ms`;
const at = (list, share) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.ceil(share * list.length) - 1)];
await launch();
const before = load();
const { page, close } = await open({ begin: null });
const usable = await page.evaluate(() => performance.getEntriesByName('usable')[0].startTime); // from the opening of the file on
await page.getByRole('button', { name: 'Look round the cellar' }).click();
await settled(page);
await go(page, 'look');
await page.waitForFunction(() => veilstop.pictures.idle && veilstop.busy.size === 0); // thicker hazes are looked through ahead

// One haze asked for: when its numbers, its coarse and its fine picture stand.
const haze = (k) => page.evaluate(async (density) => {
  const t = performance.now(), out = {}, p = veilstop.pictures;
  const watch = new Promise((done) => {
    const stop = veilstop.subscribe(() => {
      const now = performance.now() - t;
      if (p.now?.key === `0|${density}` && !out.coarse) out.coarse = now;
      if (p.now?.key === `0|${density}` && p.now.fine) { out.fine = now; stop(); done(); }
    });
  });
  await veilstop.tryDensity(density);
  out.numbers = performance.now() - t;
  await watch;
  return out;
}, k);
const all = [];
for (let i = 0; i < 25; i++) all.push(await haze(0.01 + 0.0021 * i));
const warm = all.slice(5);
const choose = await page.evaluate(async () => { const t = performance.now(); veilstop.answers.choices = {}; await veilstop.chooseAll(); return performance.now() - t; });
const memory = await page.evaluate(async () => [await veilstop.core.ask('memory', {}), await veilstop.drawing.ask('memory', {}), performance.memory?.usedJSHeapSize ?? 0]);
// The first picture of a shot that nobody has looked at yet.
const first = await page.evaluate(async () => {
  const t = performance.now(), p = veilstop.pictures, out = {};
  const watch = new Promise((done) => { const stop = veilstop.subscribe(() => { if (p.now?.shot !== 2) return; out.coarse ??= performance.now() - t; if (p.now.fine) { out.fine = performance.now() - t; stop(); done(); } }); });
  veilstop.showShot(2);
  await watch;
  return out;
});
// A camera turned a little: the scene is opened anew, nothing of its picture is known.
await page.waitForFunction(() => veilstop.pictures.idle && veilstop.busy.size === 0);
const changed = await page.evaluate(async () => {
  const p = veilstop.pictures, out = {}, was = p.now, t = performance.now();
  const watch = new Promise((done) => { const stop = veilstop.subscribe(() => { if (p.now === was) return; out.coarse ??= performance.now() - t; if (p.now.fine) { out.fine = performance.now() - t; stop(); done(); } }); });
  const name = veilstop.store.scene.shots[veilstop.shot].camera;
  veilstop.store.change('another lens', (s) => { const camera = s.cameras.find((c) => c.name === name); camera.focal_mm = (camera.focal_mm ?? 35) + 1; });
  await watch;
  return out;
});
await close();
await end();
const row = (what, aim, got) => console.log(`| ${what} | ${aim} | ${got} |`);
console.log(`| ${cpus().length} processors, load ${before} to ${load()} | aim | measured |\n| --- | --- | --- |`);
row('start to usable', '500 ms', ms(usable));
row('haze control to numbers, half / 95 % of 20', '100 ms', `${ms(at(warm.map((x) => x.numbers), 0.5))} / ${ms(at(warm.map((x) => x.numbers), 0.95))}`);
row('to a coarse view', '100 ms', `${ms(at(warm.map((x) => x.coarse), 0.5))} / ${ms(at(warm.map((x) => x.coarse), 0.95))}`);
row('to a settled view of 640 pixels', '600 ms', `${ms(at(warm.map((x) => x.fine), 0.5))} / ${ms(at(warm.map((x) => x.fine), 0.95))}`);
row('choose, four shots and their order', '1.5 s', ms(choose));
row('another shot for the first time: as small as the day has it, settled', '', `${ms(first.coarse)}, ${ms(first.fine)}`);
row('a lens changed: coarse view, settled', '200 ms, –', `${ms(changed.coarse)}, ${ms(changed.fine)}`);
row('memory of the core that answers, that draws, of the page’s own', '', memory.map((m) => `${(m / 1e6).toFixed(0)} MB`).join(', '));
