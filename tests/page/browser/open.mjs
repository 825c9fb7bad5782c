// SPDX-License-Identifier: GPL-3.0-or-later
// The page in the distribution's Chromium, from disk and with no network; whatever it says on the console,
// throws or asks for is remembered, and a test that closes it fails on any.
import assert from 'node:assert/strict';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { readFileSync } from 'node:fs';

const from = createRequire(process.env.VS_MODULES + '/x.js');
const { chromium } = from('playwright-core');
export const axe = readFileSync(from.resolve('axe-core/axe.min.js'), 'utf8');
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const WAIT = 600000; // [ms] after which something hangs; a busy machine takes its time, and what is measured is measured elsewhere

let browser = null;
export async function launch() {
  browser ??= await chromium.launch({ executablePath: process.env.VS_CHROMIUM ?? '/usr/bin/chromium', args: FLAGS });
  return browser;
}
export async function end() { await browser?.close(); browser = null; }

// width: 360 is a phone with touch.  begin: what the first question is answered with; null: it is left.
export async function open({ width = 1440, height = width < 500 ? 740 : 900, look = 'light', begin = 'Look round the cellar', context = null, before = null } = {}) {
  const phone = width < 500;
  context ??= await (await launch()).newContext({ viewport: { width, height }, colorScheme: look, hasTouch: phone, isMobile: phone, acceptDownloads: true, offline: true });
  const page = await context.newPage(), wrong = [];
  page.setDefaultTimeout(WAIT);
  await before?.(page);
  page.on('console', (m) => { if (['error', 'warning'].includes(m.type())) wrong.push(`console: ${m.text()}`); });
  page.on('pageerror', (e) => wrong.push(`thrown: ${e.message}`));
  page.on('request', (r) => { if (!/^(file|blob|data):/.test(r.url()) || (r.url().startsWith('file:') && !r.url().endsWith('/veilstop.html') && !r.url().includes('veilstop.html#'))) wrong.push(`asked for ${r.url()}`); });
  await page.goto(pathToFileURL(process.env.VS_PAGE).href);
  await page.waitForSelector('html[data-ready]');
  if (begin) await page.getByRole('button', { name: begin }).click();
  const close = async () => { await context.close(); assert.deepEqual(wrong, []); };
  return { page, context, close, wrong };
}
// Until every question is answered; pictures apart.
export const settled = (page) => page.waitForFunction(() => veilstop.busy.size === 0 && (veilstop.faults.length > 0 || veilstop.answers.of === JSON.stringify(veilstop.store.scene)), null, { timeout: WAIT, polling: 100 });
export const pictured = (page) => page.waitForFunction(() => veilstop.pictures.now?.width >= 80, null, { timeout: WAIT, polling: 100 });
export const go = async (page, area) => { await page.evaluate((a) => { location.hash = a; }, area); await page.waitForSelector(`[data-at="${area}"]`); };
// The mean over the pixels that the view shows: two that differ are two pictures.
export const pixels = (page) => page.evaluate(() => veilstop.pictures.now.pixels.reduce((s, v) => s + v, 0) / veilstop.pictures.now.pixels.length);

// A finger that is put down at a place, moved and lifted.
export async function swipe(page, context, from, to, steps = 8) {
  const cdp = await context.newCDPSession(page);
  const at = (p) => [{ x: p[0], y: p[1] }];
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: at(from) });
  for (let i = 1; i <= steps; i++) await cdp.send('Input.dispatchTouchEvent', { type: 'touchMove', touchPoints: at(from.map((v, k) => v + (to[k] - v) * i / steps)) });
  await cdp.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
  await cdp.detach();
}
// The middle of a handle of the drawing, in the view from above (0) or from the side (1).
export async function handle(page, name, view = 0) {
  const h = page.locator(`.plan .handle[data-name="${name}"] .hit`).nth(view);
  await h.scrollIntoViewIfNeeded();
  const b = await h.boundingBox();
  return [b.x + b.width / 2, b.y + b.height / 2];
}
