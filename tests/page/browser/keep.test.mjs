// SPDX-License-Identifier: GPL-3.0-or-later
// Nothing is lost: on reload, on a bad file, on a full store, when the core stops.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { end, go, open, settled } from './open.mjs';

after(end);
const give = (page, name, text) => page.locator('dialog input[type=file]').setInputFiles({ name, mimeType: 'application/json', buffer: Buffer.from(text) });

test('a reload keeps scene, page and clock; the first question comes once', async () => {
  const { page, close } = await open();
  await settled(page);
  await page.evaluate(() => { veilstop.setDensity(0.0222); veilstop.set({ units: 'ft', look: 'night', ticks: { a: true }, began: Date.now() - 60000 }); });
  await settled(page);
  const before = await page.evaluate(() => JSON.stringify([veilstop.store.scene, veilstop.settings]));
  await page.reload();
  await page.waitForSelector('html[data-ready]');
  await settled(page);
  assert.equal(await page.evaluate(() => JSON.stringify([veilstop.store.scene, veilstop.settings])), before);
  assert.equal(await page.locator('dialog[open]').count(), 0);
  assert.equal(await page.evaluate(() => document.documentElement.dataset.look), 'night');
  await close();
});

test('a wrong file is refused with its reason, and the scene stays', async () => {
  const { page, close } = await open();
  await settled(page);
  const before = await page.evaluate(() => JSON.stringify(veilstop.store.scene));
  await page.getByRole('button', { name: 'Scene' }).click();
  const why = () => page.locator('dialog .err').innerText();
  await give(page, 'notes.txt', 'lunch at one');
  await page.waitForSelector('dialog .err');
  assert.match(await why(), /notes.txt cannot be opened: it is no JSON.*Your scene is as it was/s);
  await give(page, 'old.json', '{"lights":[]}');
  await page.waitForFunction(() => /old.json/.test(document.querySelector('dialog .err').textContent));
  assert.match(await why(), /no scene/);
  await give(page, 'bad.json', before.replace('"dimmer":0.8', '"dimmer":8'));
  await page.waitForFunction(() => /bad.json/.test(document.querySelector('dialog .err').textContent));
  assert.match(await why(), /\/lights\/3\/dimmer: must be between 0 and 1/);
  assert.equal(await page.evaluate(() => JSON.stringify(veilstop.store.scene)), before);
  await give(page, 'good.json', before.replace('The cellar', 'The other cellar'));
  await page.waitForFunction(() => veilstop.store.scene.title.startsWith('The other cellar'));
  await page.evaluate(() => veilstop.store.undo());
  assert.equal(await page.evaluate(() => JSON.stringify(veilstop.store.scene)), before);
  await close();
});

test('a saved scene opens again as it was', async () => {
  const { page, close } = await open();
  await settled(page);
  await page.getByRole('button', { name: 'Scene' }).click();
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save this scene' }).click()]);
  assert.match(download.suggestedFilename(), /^the-cellar \d{4}-\d\d-\d\d\.json$/);
  const before = await page.evaluate(() => JSON.stringify(veilstop.store.scene));
  await page.locator('dialog input[type=file]').setInputFiles(await download.path());
  await page.waitForFunction(() => !document.querySelector('dialog').open);
  assert.equal(await page.evaluate(() => JSON.stringify(veilstop.store.scene)), before);
  await close();
});

test('a full store is told, and the scene stays on the page', async () => {
  const { page, close } = await open();
  await settled(page);
  await page.evaluate(() => { Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }; veilstop.setDensity(0.0333); });
  await page.waitForFunction(() => /is full. Save it as a file/.test(document.body.textContent));
  assert.equal(await page.evaluate(() => veilstop.store.scene.shots[0].extinction_per_m), 0.0333);
  await close();
});

test('a core that traps is started anew, says so, and answers again', async () => {
  const { page, close } = await open();
  await settled(page);
  const told = await page.evaluate(async () => {
    // a shot that is far out of the core's memory
    for (const shot of [5e7, 7e7, 9e7, 1.1e8]) {
      const one = veilstop.core.ask('picture', { scene: veilstop.good, shot, width: 64, height: 36 }).catch((e) => e.message), two = veilstop.core.ask('memory', {}).catch((e) => e.message);
      await Promise.all([one, two]);
      if (veilstop.trouble) return [await one, await two, veilstop.trouble];
    }
    return ['', '', 'nothing trapped'];
  });
  assert.match(told[2], /The sums stopped. The scene is kept/);
  assert.ok(await page.evaluate(() => veilstop.core.ask('memory', {})) > 1e6);
  await page.evaluate(() => veilstop.setDensity(0.0444));
  await settled(page);
  assert.equal(await page.evaluate(() => veilstop.trouble), '');
  await close();
});

test('a page without haze or shots says what to do', async () => {
  const { page, close } = await open({ width: 360, begin: 'An empty room' });
  for (const area of ['day', 'look', 'grade', 'cautions', 'clock', 'card']) {
    await go(page, area);
    assert.ok((await page.locator(`#${area}`).innerText()).length > 20, area);
  }
  await close();
});
