// SPDX-License-Identifier: GPL-3.0-or-later
// The cellar at a desk with a mouse: each area used as a person would.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { end, go, handle, open, pictured, settled } from './open.mjs';

after(end);

async function drag(page, from, to) {
  await page.mouse.move(...from);
  await page.mouse.down();
  for (let i = 1; i <= 6; i++) await page.mouse.move(...from.map((v, k) => v + (to[k] - v) * i / 6));
  await page.mouse.up();
}

test('the place: a lamp dragged in both drawings, undone, its numbers beside it; a fault at its field', async () => {
  const { page, close } = await open({ begin: /^The cellar/ });
  await settled(page);
  const at = () => page.evaluate(() => veilstop.store.scene.lights.find((l) => l.name === 'bulkhead').at);
  const first = await at(), p = await handle(page, 'bulkhead');
  await drag(page, p, [p[0] - 40, p[1] - 25]);
  const above = await at();
  assert.ok(above[0] < first[0] && above[1] > first[1] && above[2] === first[2], `${above}`);
  const q = await handle(page, 'bulkhead', 1);
  await drag(page, q, [q[0], q[1] + 20]);
  assert.ok((await at())[2] < first[2]);
  assert.equal(await page.getByLabel('Height', { exact: true }).inputValue(), (await at())[2].toFixed(2));
  const undo = page.getByRole('button', { name: /^Undo: moved bulkhead/ });
  await undo.click();
  await undo.click();
  assert.deepEqual(await at(), first);
  await page.keyboard.press('Control+Shift+Z');
  assert.deepEqual(await at(), above);
  await page.getByLabel('Dimmed to', { exact: true }).fill('800');
  await page.waitForSelector('#place .err');
  assert.match(await page.locator('#place .f.bad .err').innerText(), /between 0 and 1 \(got 8\)/);
  const kept = await page.evaluate(() => veilstop.answers.dwell.shots.length);
  assert.equal(kept, 4, 'the last good answers stay');
  await page.getByLabel('Dimmed to', { exact: true }).fill('40');
  await settled(page);
  assert.equal(await page.locator('#place .err').count(), 0);
  await close();
});

test('the look: haze by the slider, before and after by holding, a place and a beam tapped', async () => {
  const { page, close } = await open();
  await settled(page);
  await pictured(page);
  const slider = page.locator('#k'), box = await slider.boundingBox();
  const word = () => page.locator('.haze output').innerText();
  await page.mouse.click(box.x + box.width * 0.95, box.y + box.height / 2);
  await page.waitForFunction(() => document.querySelector('.haze output').textContent === 'Heavy');
  await settled(page);
  assert.ok(await page.locator('.three .missed').count() > 0, 'a want is missed in heavy haze');
  await page.mouse.click(box.x + box.width * 0.1, box.y + box.height / 2);
  await page.waitForFunction(() => document.querySelector('.haze output').textContent === 'Thin');
  assert.equal(await word(), 'Thin');
  await page.evaluate(() => veilstop.setDensity(0));
  await page.waitForFunction(() => document.querySelector('.haze output').textContent === 'No haze');
  await page.evaluate(() => veilstop.store.undo());
  await settled(page);
  await page.waitForFunction(() => veilstop.pictures.clear?.fine);
  const hold = page.getByRole('button', { name: 'Hold:' }), h = await hold.boundingBox();
  await page.mouse.move(h.x + 20, h.y + 20);
  await page.mouse.down();
  assert.equal(await page.locator('.view .tag').innerText(), 'No haze');
  await page.mouse.up();
  assert.equal(await page.locator('.view .tag').count(), 0);
  const v = await page.locator('.view').boundingBox();
  await page.mouse.click(v.x + v.width * 0.85, v.y + v.height * 0.2);
  await page.waitForFunction(() => veilstop.store.scene.shots[0].points.length === 4);
  await settled(page);
  assert.match(await page.locator('.tapped p').innerText(), /place, [\d.]+ m away/);
  await page.getByRole('button', { name: /Beam: passage back/ }).click();
  await page.getByRole('button', { name: 'Want it to read' }).click();
  await settled(page);
  assert.equal(await page.evaluate(() => veilstop.store.scene.shots[0].wants.filter((w) => w.want === 'beam').length), 2);
  await close();
});

test('the day: order, clock, cut early; the cautions ticked; feet', async () => {
  const { page, close } = await open();
  await settled(page);
  await page.getByRole('button', { name: 'Change order' }).click();
  await page.getByRole('button', { name: '4 down the passage earlier' }).click();
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.answers.dwell.shots.map((s) => s.name)), ['1 wide', '2 hand lamp', '4 down the passage', '3 reverse']);
  await page.getByRole('button', { name: 'Done', exact: true }).click();
  await go(page, 'clock');
  await page.getByRole('button', { name: 'Start now' }).click();
  assert.equal(await page.locator('.runbox .do').innerText(), 'Warm up');
  await page.getByRole('button', { name: 'Do it now' }).click();
  await page.waitForFunction(() => document.querySelector('.runbox').dataset.hazer === 'on');
  await page.getByRole('button', { name: 'Do it now' }).click();
  await page.waitForFunction(() => document.querySelector('.runbox').dataset.hazer === 'off');
  assert.match(await page.locator('.next .what').innerText(), /Roll 1 wide/);
  await go(page, 'cautions');
  const first = page.locator('.check input').first();
  await first.check();
  assert.match(await page.locator('#cautions').innerText(), /expect it from 07:4/);
  await page.getByRole('button', { name: 'Scene' }).click();
  await page.getByRole('button', { name: 'Feet' }).click();
  await page.getByRole('dialog').getByRole('button', { name: 'Done' }).click();
  await go(page, 'look');
  assert.match(await page.locator('#look .sight').innerText(), /\d+ ft/);
  await page.locator('.plan .handle[data-name="bulkhead"]').first().focus();
  await page.keyboard.press('Enter');
  await page.getByLabel('Height', { exact: true }).fill('6\'6"');
  await page.getByLabel('Height', { exact: true }).blur();
  assert.equal(await page.evaluate(() => veilstop.store.scene.lights.find((l) => l.name === 'bulkhead').at[2]), 1.9812);
  await close();
});

test('the grade: numbers, another place, files', async () => {
  const { page, close } = await open();
  await settled(page);
  await go(page, 'grade');
  await page.waitForSelector('.dial');
  const told = await page.evaluate(() => veilstop.core.ask('run', { command: 'grade', scene: veilstop.good, options: ['shot=1 wide'] }));
  const text = await page.locator('.dial').innerText();
  for (const v of [...told.answer.cdl.slope, ...told.answer.cdl.power]) assert.ok(text.includes(v.toFixed(4)), `${v}`);
  await page.locator('#grade select').selectOption('black cloth');
  await page.waitForFunction(() => document.querySelector('#grade header p').textContent.includes('black cloth'));
  const [clf] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Download CLF' }).click()]);
  assert.match(clf.suggestedFilename(), /1-wide\.clf/);
  await close();
});
