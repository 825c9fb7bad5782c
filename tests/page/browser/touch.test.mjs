// SPDX-License-Identifier: GPL-3.0-or-later
// The plan under one finger and under two: paper is drawn along, drawn larger, and nothing on it moves; up
// and down the page scrolls. With a phone's touch emulated.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { end, go, handle, open, settled, swipe } from './open.mjs';

after(end);

// Two fingers put down, moved and lifted one after the other.
async function two(page, context, from, to, steps = 8) {
  const cdp = await context.newCDPSession(page);
  const at = (share) => from.map((p, i) => ({ x: p[0] + (to[i][0] - p[0]) * share, y: p[1] + (to[i][1] - p[1]) * share, id: i }));
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: at(0).slice(0, 1) });
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: at(0) });
  for (let i = 1; i <= steps; i++) await cdp.send('Input.dispatchTouchEvent', { type: 'touchMove', touchPoints: at(i / steps) });
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: at(1).slice(1) });
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
  await cdp.detach();
}

test('one finger draws the paper along, or scrolls the page; two draw it larger; nothing of the scene moves', async () => {
  const { page, context, close } = await open({ width: 360 });
  await settled(page);
  await go(page, 'place');
  const before = await page.evaluate(() => JSON.stringify(veilstop.store.scene)), same = async (what) => assert.equal(await page.evaluate(() => JSON.stringify(veilstop.store.scene)), before, what);
  const larger = page.getByRole('button', { name: 'Draw larger' });
  for (let i = 0; i < 3; i++) await larger.tap();
  const camera = async () => (await handle(page, 'camera A'))[0];
  // paper that nothing lies on, so far right or left
  const bare = (from, to) => page.evaluate(([a, b]) => {
    const r = document.querySelector('.plan svg').getBoundingClientRect();
    for (let y = r.y + 60; y < r.y + 300; y += 7) for (let x = a; x < b; x += 9) { const e = document.elementFromPoint(x, y); if (e?.closest('.plan svg') && !e.closest('[data-h]')) return [x, y]; }
    return null;
  }, [from, to]);
  const was = await camera(), right = await bare(220, 300);
  await swipe(page, context, right, [right[0] - 120, right[1]]);
  assert.ok(Math.abs(await camera() - (was - 120)) < 3, `one finger: ${was} went to ${await camera()}`);
  const left = await bare(60, 160);
  await swipe(page, context, left, [left[0] + 120, left[1]]);
  assert.ok(Math.abs(await camera() - was) < 3, 'and back');
  await same('one finger');
  // two fingers, one of them on a thing: apart by half as much again, and along
  const apart = async () => (await handle(page, 'camera A'))[0] - (await handle(page, 'fill lamp'))[0], wide = await apart();
  const seen = () => page.evaluate(() => [...document.querySelectorAll('.plan .handle')].map((h) => { const b = h.querySelector('.hit').getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2, h.dataset.name]; })
    .find(([x, y]) => x > 40 && x < 150 && y > 240 && y < 500 && document.elementFromPoint(x, y)?.closest('[data-h]')));
  const at = await seen();
  await two(page, context, [[at[0], at[1]], [at[0] + 120, at[1] + 40]], [[at[0] + 20, at[1]], [at[0] + 200, at[1] + 60]]);
  const grown = Math.abs(await apart() / wide);
  assert.ok(Math.abs(grown / (Math.hypot(180, 60) / Math.hypot(120, 40)) - 1) < 0.03, `drawn ${grown} times as large`);
  await same('two fingers, one on a thing');
  assert.equal(await page.evaluate(() => veilstop.store.undoLabel), null);
  // up and down: the page
  await page.evaluate(() => scrollTo(0, 0));
  const free = await bare(100, 260);
  await swipe(page, context, free, [free[0], free[1] - 120], 12);
  await page.waitForFunction(() => scrollY > 60);
  await same('a swipe up');
  // and what is held by one finger still moves
  for (const room of ['', 'cellar']) await page.locator('#plan-room').selectOption(room);
  await page.evaluate(() => scrollTo(0, 0));
  const held = await seen();
  await swipe(page, context, held, [held[0] + 30, held[1] + 20]);
  assert.match(await page.evaluate(() => veilstop.store.undoLabel), /^moved /);
  await close();
});
