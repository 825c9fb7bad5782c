// SPDX-License-Identifier: GPL-3.0-or-later
// The page's figures are the native program's: each command on each demo, number by number.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { after, test } from 'node:test';
import { end, go, open, settled } from './open.mjs';

after(end);
const root = new URL('../../../', import.meta.url).pathname;
const native = (command, scene, ...more) => JSON.parse(spawnSync(process.env.VS_PROGRAM, [command, `${root}data/demo/${scene}`, '--json', ...more], { encoding: 'utf8', maxBuffer: 1 << 26 }).stdout);

// Six digits; times of the plan come out of a search that stops within a second.
const LOOSE = new Set(['start_min', 'end_min', 'min', 'run_s', 'wait_s', 'seconds', 'purge_s', 'peak_min', 'fluid_ml', 'saved_min', 'wait_min', 'file_wait_min']);
function same(got, want, path = '') {
  if (typeof want === 'number') {
    const key = path.split('/').at(-1), by = LOOSE.has(key) ? 1e-4 : 1e-6;
    assert.ok(Math.abs(got - want) <= by * Math.max(Math.abs(want), 1e-9) + 1e-12, `${path}: ${got} is not ${want}`);
  } else if (want && typeof want === 'object') {
    assert.deepEqual(Object.keys(got ?? {}), Object.keys(want), path);
    for (const key of Object.keys(want)) same(got[key], want[key], `${path}/${key}`);
  } else assert.equal(got, want, path);
}
const count = (v) => (typeof v === 'number' ? 1 : v && typeof v === 'object' ? Object.values(v).reduce((s, q) => s + count(q), 0) : 0);

test('predict, dwell, cautions and grade are equal to six digits on every demo', async () => {
  const { page, close } = await open();
  let figures = 0;
  for (const file of ['cellar.json', 'yard.json', 'loft.json', 'washroom.json']) {
    const scene = readFileSync(`${root}data/demo/${file}`, 'utf8'), shot = JSON.parse(scene).shots.find((s) => s.points?.length).name;
    for (const [command, options] of [['predict', []], ['dwell', []], ['cautions', []], ['grade', [`shot=${shot}`]]]) {
      const mine = await page.evaluate(([c, s, o]) => veilstop.core.ask('run', { command: c, scene: s, options: o }), [command, scene, options]);
      const theirs = native(command, file, ...options.map((o) => `--${o}`));
      if (JSON.parse(scene).title === undefined) theirs.scene = mine.answer.scene; // its file's name
      same(mine.answer, theirs, `${file} ${command}`);
      figures += count(theirs);
    }
  }
  assert.ok(figures > 3000, `${figures} figures`);
  await close();
});

test('choose gives the same band, and what the screen shows is what the core says', async () => {
  const { page, close } = await open();
  await settled(page);
  const theirs = native('choose', 'cellar.json', '--shot', '1 wide').shots[0];
  await page.waitForFunction(() => veilstop.answers.choices['1 wide']?.of === veilstop.good);
  const mine = await page.evaluate(() => veilstop.answers.choices['1 wide']);
  same(mine.extinction_per_m, theirs.extinction_per_m, 'band');
  await go(page, 'look');
  const told = native('predict', 'cellar.json', '--shot', '1 wide').shots[0], text = await page.locator('#look').innerText();
  for (const w of told.wants) assert.ok(text.includes(Math.abs(w.value) < 10 ? w.value.toFixed(2) : w.value.toFixed(0)), `${w.value} is shown`);
  for (const p of told.points) assert.ok(text.includes(p.name), p.name);
  await close();
});

// All the words and figures of a sheet, in order; pictures apart, whose digits may round otherwise.
const wordsOf = (html) => html.replace(/<img[^>]*>/g, '').replace(/<(style|svg)[\s\S]*?<\/\1>/g, ' ').replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ').trim();
test('the day on paper is the native program’s sheet, laid out to be printed', async () => {
  const { page, close } = await open({ before: (p) => p.addInitScript(() => { globalThis.print = () => { globalThis.top.printed = document.title; }; }) });
  await settled(page);
  const file = join(mkdtempSync(join(tmpdir(), 'sheet-')), 'day.html');
  spawnSync(process.env.VS_PROGRAM, ['sheet', `${root}data/demo/cellar.json`, '--out', file]);
  const theirs = readFileSync(file, 'utf8');
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save the day’s sheet' }).click()]);
  const mine = readFileSync(await download.path(), 'utf8');
  assert.match(download.suggestedFilename(), /^the-cellar .*\.html$/);
  assert.ok(wordsOf(theirs).length > 4000);
  assert.equal(wordsOf(mine), wordsOf(theirs));
  assert.equal((mine.match(/<img/g) ?? []).length, (theirs.match(/<img/g) ?? []).length);
  await page.getByRole('button', { name: 'Print the day' }).click();
  await page.waitForFunction(() => globalThis.printed);
  assert.match(await page.evaluate(() => globalThis.printed), /^The cellar.*the day's haze$/);
  const laid = await page.evaluate(() => { const { contentDocument: d, contentWindow: w } = document.querySelector('iframe.paper'); return { page: [...d.adoptedStyleSheets[0].cssRules].some((r) => r instanceof w.CSSPageRule), words: d.body.textContent.length, drawn: [...d.images].every((i) => i.naturalWidth > 0) }; });
  assert.ok(laid.page && laid.drawn && laid.words > 4000, JSON.stringify(laid));
  rmSync(dirname(file), { recursive: true });
  await close();
});
