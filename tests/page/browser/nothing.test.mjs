// SPDX-License-Identifier: GPL-3.0-or-later
// A newcomer's path on a phone, by touch alone: from an empty room to a density, its day, a card reading
// and a grade. The steps are those of docs/page.md; a step is a touch or an entry. Three minutes hold sixty
// of them at three seconds each, common practice, no source.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { after, test } from 'node:test';
import { end, go, handle, open, pictured, pixels, settled, swipe } from './open.mjs';

after(end);

test('from an empty room to a density, a day, a reading and a CDL, with a finger', async () => {
  const { page, context, close } = await open({ width: 360, begin: null });
  let steps = 0;
  const tap = async (name, exact = false) => { steps++; await page.getByRole('button', { name, exact }).first().tap(); };
  const enter = async (label, value) => { steps++; const f = page.getByLabel(label, { exact: true }).first(); await f.fill(String(value)); await f.blur(); };
  const area = async (name) => { steps++; await page.getByRole('navigation').getByRole('link', { name, exact: true }).tap(); };

  await tap('An empty room');
  // the room: its east wall dragged, its length said
  const floor = await page.locator('.plan .floor').boundingBox();
  steps++;
  await page.touchscreen.tap(floor.x + floor.width / 2, floor.y + 30);
  const wall = await handle(page, 'room: east wall');
  steps++;
  await swipe(page, context, wall, [wall[0] - 40, wall[1]]);
  const dragged = await page.evaluate(() => veilstop.store.scene.rooms[0].size[0]);
  assert.ok(dragged < 5 && dragged > 3, `the wall followed the finger: ${dragged}`);
  assert.ok(Math.abs(dragged * 20 - Math.round(dragged * 20)) < 1e-9, 'on the 5 cm grid');
  await enter('Long, to the east', '7');
  assert.equal(await page.evaluate(() => veilstop.store.scene.rooms[0].size[0]), 7);
  await settled(page); // the drawing has found its new size

  await tap('Add what is there');
  await tap('A camera', true);
  await tap('Add what is there');
  await tap('A bare bulb', true);
  await tap('Add what is there');
  await tap('A torch', true);
  await tap('Add what is there');
  await tap('A hazer', true);
  // the torch, carried to another place by its mark
  const torch = await handle(page, 'torch'), before = await page.evaluate(() => veilstop.store.scene.lights[1].at);
  steps++;
  await swipe(page, context, torch, [torch[0] + 30, torch[1] + 20]);
  const moved = await page.evaluate(() => veilstop.store.scene.lights[1].at);
  assert.ok(moved[0] > before[0] && moved[1] < before[1] && moved[2] === before[2], `${before} went to ${moved}`);
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.faults), []);

  // the look: a place tapped, the beam wanted, the best taken
  await area('Look');
  await settled(page);
  await pictured(page);
  const hazed = await pixels(page);
  const view = await page.locator('.view').boundingBox();
  steps++;
  await page.touchscreen.tap(view.x + view.width * 0.3, view.y + view.height * 0.3);
  await page.waitForFunction(() => veilstop.store.scene.shots[0].points?.length === 1);
  await tap('A beam that reads', true);
  await tap('Want this', true);
  await page.waitForFunction(() => veilstop.answers.choices['shot 1']?.extinction_per_m?.recommended > 0);
  const best = page.getByRole('button', { name: /^Take the best/ });
  if (await best.count()) { steps++; await best.tap(); }
  await settled(page);
  const density = await page.evaluate(() => veilstop.store.scene.shots[0].extinction_per_m);
  assert.ok(density > 0.0002 && density < 1, `a density: ${density}`);
  assert.ok(steps <= 60, `${steps} steps from nothing to a density`);
  console.log(`${steps} steps from nothing to a density`);
  await page.waitForFunction(() => veilstop.pictures.now.key === `0|${veilstop.planned}` && veilstop.pictures.now.width >= 80);
  assert.notEqual(await pixels(page), hazed, 'the view changed');

  // the day: a second shot, thicker, and the order turned round
  await area('Day');
  await page.getByRole('button', { name: /^Add a shot of camera/ }).tap();
  await settled(page);
  await page.waitForFunction(() => veilstop.answers.dwell?.shots.length === 2);
  await tap('Change order');
  await tap('shot 2 earlier', true);
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.answers.dwell.shots.map((s) => s.name)), ['shot 2', 'shot 1']);
  await tap('Done', true);

  // a card: four numbers, used
  await page.getByRole('link', { name: 'Card reading' }).first().tap();
  await enter('White before', 80); await enter('White with haze', 66); await enter('Black before', 2.4); await enter('Black with haze', 9.1);
  await enter('Camera to card', 6);
  await page.waitForSelector('.result .n');
  assert.match(await page.locator('.result').innerText(), /give or take/);
  const use = page.getByRole('button', { name: 'Use it' });
  await use.tap();
  await settled(page);
  assert.equal(await page.evaluate(() => veilstop.store.scene.readings.length), 1);

  // the grade: a CDL handed over
  await page.evaluate(() => veilstop.showShot(1));
  await area('Grade');
  const button = page.getByRole('button', { name: 'Download CDL' });
  await button.waitFor();
  const [download] = await Promise.all([page.waitForEvent('download'), button.tap()]);
  const xml = readFileSync(await download.path(), 'utf8');
  assert.match(xml, /<Slope>[-\d. e]+<\/Slope>/);
  assert.match(download.suggestedFilename(), /\.cdl$/);

  // the cautions stand and name no density harmless
  await area('Cautions');
  await page.waitForSelector('#cautions .lead');
  const words = await page.locator('body').innerText();
  assert.ok(!/\bsafe(ly|r|st)?\b/i.test(words.replace(/safety data sheet/gi, '')), words.match(/.{30}\bsafe.{30}/i)?.[0]);
  await go(page, 'clock');
  await tap('Start now');
  await page.waitForSelector('.runbox .left');
  assert.match(await page.locator('.runbox .do').innerText(), /Warm up|Hazer on/);
  await close();
});
