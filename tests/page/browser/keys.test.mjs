// SPDX-License-Identifier: GPL-3.0-or-later
// The whole page by keyboard alone, on a tablet's width.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { end, open, settled } from './open.mjs';

after(end);

test('from an empty room to a density with keys alone', async () => {
  const { page, close } = await open({ width: 768, begin: null });
  // Tabs on until what is focused has a name; its own label, text or aria-label.
  const named = () => page.evaluate(() => { const e = document.activeElement; return (e.getAttribute('aria-label') ?? document.querySelector(`label[for="${CSS.escape(e.id)}"]`)?.textContent ?? e.textContent ?? '').trim(); });
  const seek = async (pattern, key = 'Tab') => {
    for (let i = 0; i < 160; i++) { if (pattern.test(await named())) return; await page.keyboard.press(key); }
    assert.fail(`${pattern} cannot be reached by keys`);
  };
  const press = async (pattern) => { await seek(pattern); await page.keyboard.press('Enter'); };
  await press(/^An empty room/);
  for (const thing of [/^A camera$/, /^A bare bulb$/, /^A torch$/, /^A hazer$/]) {
    await press(/^Add what is there$/);
    await press(thing);
  }
  await seek(/^torch, spot/, 'Shift+Tab');
  const before = await page.evaluate(() => veilstop.store.scene.lights[1].at);
  await page.keyboard.press('ArrowLeft');
  await page.keyboard.press('Shift+ArrowUp');
  await page.keyboard.press('PageUp');
  const moved = await page.evaluate(() => veilstop.store.scene.lights[1].at);
  [-0.05, 0.5, 0.05].forEach((d, i) => assert.ok(Math.abs(moved[i] - before[i] - d) < 0.026, `${before} became ${moved}`));
  await page.keyboard.press('Escape');
  assert.deepEqual(await page.evaluate(() => veilstop.store.scene.lights[1].at), before);
  await press(/^Look$/);
  await settled(page);
  await press(/^A beam that reads$/);
  await press(/^Want this$/);
  await page.waitForFunction(() => veilstop.answers.choices['shot 1']?.extinction_per_m?.recommended > 0);
  await seek(/^Haze of shot 1$/, 'Shift+Tab');
  const k = await page.evaluate(() => veilstop.planned);
  await page.keyboard.press('PageDown');
  await settled(page);
  const thinner = await page.evaluate(() => veilstop.planned);
  assert.ok(thinner < k && thinner > 0, `${k} became ${thinner}`);
  await seek(/^Hold:/, 'Shift+Tab');
  await page.keyboard.down('Space');
  await page.waitForSelector('.view .tag');
  await page.keyboard.up('Space');
  assert.equal(await page.locator('.view .tag').count(), 0);
  await press(/^Cautions$/);
  await page.waitForFunction(() => document.activeElement.id === 'h-cautions');
  await close();
});
