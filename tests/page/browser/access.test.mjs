// SPDX-License-Identifier: GPL-3.0-or-later
// axe-core (WCAG 2.2 A and AA, best practice) in every area, both appearances, on a phone and at a desk; no
// sideways scroll; what is touched is at least 44 px where the platform's guides ask for it.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { axe, end, go, open, settled } from './open.mjs';

after(end);
const AREAS = ['day', 'look', 'place', 'grade', 'cautions', 'clock', 'card'];

async function violations(page) {
  return page.evaluate(async () => {
    const found = await globalThis.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] });
    return found.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.target} ${n.failureSummary?.split('\n')[1] ?? ''}`).join(' | ')}`);
  });
}

for (const width of [360, 768, 1440]) {
  for (const look of ['light', 'dark']) {
    test(`no violations at ${width} px, ${look}`, async () => {
      const { page, close } = await open({ width, look });
      await settled(page);
      await page.evaluate(axe); // as a debugger's script: the page's own policy lets none in
      const all = [];
      for (const area of AREAS) {
        await go(page, area);
        if (area === 'grade') await page.waitForSelector('.dial');
        if (area === 'place') await page.evaluate(() => veilstop.select({ kind: 'lights', index: 3 }));
        all.push(...(await violations(page)).map((v) => `${area}: ${v}`));
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        if (wide > 0) all.push(`${area} scrolls sideways by ${wide} px`);
        const small = await page.evaluate(() => [...document.querySelectorAll('button, a.btn, nav a, select, summary')].filter((e) => e.offsetParent && e.getBoundingClientRect().height < 43.5).map((e) => e.textContent.slice(0, 30)));
        if (small.length) all.push(`${area}: smaller than 44 px: ${small}`);
      }
      await page.getByRole('button', { name: 'Scene' }).click();
      all.push(...(await violations(page)).map((v) => `scene sheet: ${v}`));
      assert.deepEqual(all, []);
      await close();
    });
  }
}
