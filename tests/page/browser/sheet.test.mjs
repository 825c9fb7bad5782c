// SPDX-License-Identifier: GPL-3.0-or-later
// The printed sheet as a browser shows it: nothing is asked for, nothing fails, and axe-core's rules hold on
// a phone and at a desk.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import test from 'node:test';
import { pathToFileURL } from 'node:url';
import { axe, end, launch } from './open.mjs';

test('the sheet loads nothing and breaks no rule of accessibility', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'sheet-')), file = join(folder, 'day.html');
  try {
    const made = spawnSync(process.env.VS_PROGRAM, ['sheet', 'data/demo/washroom.json', '--out', file], { encoding: 'utf8' });
    assert.ok(made.status <= 1, made.stderr);
    for (const width of [360, 1200]) {
      const context = await (await launch()).newContext({ viewport: { width, height: 800 }, offline: true, bypassCSP: true });
      const page = await context.newPage(), wrong = [];
      page.on('console', (m) => { if (['error', 'warning'].includes(m.type())) wrong.push(m.text()); });
      page.on('request', (r) => { if (!r.url().startsWith('data:') && r.url() !== pathToFileURL(file).href) wrong.push(r.url()); });
      await page.goto(pathToFileURL(file).href);
      await page.evaluate(axe);
      const broken = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }).then((r) => r.violations.map((v) => `${v.id}: ${v.nodes[0].html}`)));
      assert.deepEqual(broken, []);
      assert.equal(await page.evaluate(() => document.documentElement.scrollWidth), width);
      assert.deepEqual(wrong, []);
      await context.close();
    }
  } finally {
    rmSync(folder, { recursive: true });
    await end();
  }
});
