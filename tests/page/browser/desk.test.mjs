// SPDX-License-Identifier: GPL-3.0-or-later
// The cellar at a desk with a mouse: each area used as a person would.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { inFrame } from '../../../src/page/place/geometry.js';
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
  assert.match(await page.locator('#cautions').innerText(), /expect it from about 07:40/);
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

test('the plan drawn larger: its paper is drawn along by mouse, and comes along with the keys', async () => {
  const { page, close } = await open();
  await settled(page);
  const floor = page.locator('.plan .floor').first();
  await floor.scrollIntoViewIfNeeded();
  const larger = page.getByRole('button', { name: 'Draw larger' });
  for (let i = 0; i < 4; i++) await larger.click();
  const frame = await page.locator('.plan svg').boundingBox(), hatch = async () => (await handle(page, 'bulkhead'))[0];
  const before = await hatch(), y = (await handle(page, 'bulkhead'))[1] + 40;
  assert.ok(before > frame.x + frame.width, 'the lamp by the door is out of sight');
  await drag(page, [frame.x + frame.width * 0.7, y], [frame.x + frame.width * 0.2, y]);
  assert.ok(Math.abs(await hatch() - (before - frame.width * 0.5)) < 3, `${before} went to ${await hatch()}`);
  assert.equal(await page.evaluate(() => veilstop.selected), null, 'nothing was chosen by it');
  await page.locator('.plan .handle[data-name="camera A"]').first().focus();
  const camera = (await handle(page, 'camera A'))[0];
  assert.ok(camera > frame.x && camera < frame.x + frame.width, 'what is focused is in sight');
  const names = await page.locator('.plan text.halo').evaluateAll((all) => all.map((t) => { const b = t.getBBox(); return [t.textContent, b.x, b.y, b.width, b.height]; }));
  assert.ok(names.length > 3);
  for (const [name, x, , w] of names) assert.ok(x >= 0 && x + w <= frame.width + 1, `${name} is cut off`);
  names.forEach((a, i) => names.slice(i + 1).forEach((b) => assert.ok(a[1] + a[3] <= b[1] + 1 || b[1] + b[3] <= a[1] + 1 || a[2] + a[4] <= b[2] + 4 || b[2] + b[4] <= a[2] + 4, `${a[0]} lies over ${b[0]}`)));
  await close();
});

test('a room with doors is dragged: its doors and its neighbours’ walls follow, and the scene stays whole', async () => {
  const { page, close } = await open();
  await settled(page);
  await page.locator('#plan-room').selectOption('');
  await page.evaluate(() => veilstop.select({ kind: 'rooms', index: 1 }));
  const at = await handle(page, 'passage'), doors = () => page.evaluate(() => veilstop.store.scene.openings.slice(0, 2).map((o) => o.corners[0]));
  const before = await doors();
  await drag(page, at, [at[0] + 12, at[1] - 8]);
  const after = await doors();
  after.forEach((d, i) => assert.ok(d[0] > before[i][0] && d[1] > before[i][1], `${before[i]} went to ${d}`));
  const [cellar, passage, bay] = await page.evaluate(() => veilstop.store.scene.rooms);
  assert.ok(Math.abs(cellar.size[0] - after[0][0]) < 1e-6 && Math.abs(passage.corner[0] - after[0][0]) < 1e-6 && Math.abs(bay.corner[0] - after[1][0]) < 1e-6);
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.faults), []);
  await close();
});

// A lamp of the same light every way, in the form of LM-63-2002: one plane of three angles.
const ROUND = (candela) => ['IESNA:LM-63-2002', '[TEST] made for this test', '[MANUFAC] nobody', 'TILT=NONE', '1 -1 1 3 1 1 2 0 0 0', '1 1 10', '0 90 180', '0', `${candela} ${candela} ${candela}`].join('\r\n') + '\r\n';
test('a lamp by its own LM-63 file: taken in, judged, kept, and asked for with a scene that names it', async () => {
  const { page, context, close } = await open();
  await settled(page);
  await page.getByRole('button', { name: 'Add what is there' }).click();
  await page.getByRole('button', { name: 'A measured lamp', exact: true }).click();
  const give = (name, text) => page.locator('#place input[type=file]').setInputFiles({ name, mimeType: 'text/plain', buffer: Buffer.from(text) });
  await give('broken.ies', 'lunch at one');
  await page.waitForFunction(() => /must have a line TILT/.test(document.querySelector('#place div.chosen')?.textContent ?? ''));
  await give('round.ies', ROUND(500));
  await page.waitForFunction(() => veilstop.store.scene.lights.at(-1).file === 'round.ies');
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.faults), []);
  // 500 cd straight down from 2 m over a point: 125 lx, by the inverse square
  const lux = await page.evaluate(async () => {
    const s = structuredClone(veilstop.store.scene), lamp = s.lights.at(-1);
    Object.assign(lamp, { at: [4.5, 2.5, 3], aim: [4.5, 2.5, 0] });
    const shot = { name: 'only', camera: 'A', extinction_per_m: 0, minutes: 1, lights: [lamp.name], points: [{ name: 'p', at: [4.5, 2.5, 1], facing: [0, 0, 1], reflectance: 0.5 }] };
    const told = await veilstop.core.ask('run', { command: 'predict', scene: JSON.stringify({ ...s, shots: [shot], indirect: 'none' }) });
    return [told.said, told.answer?.shots[0].points[0].clear_nits];
  });
  assert.ok(Math.abs(lux[1] * Math.PI / 0.5 - 125) < 0.1, `${lux}`);
  const scene = await page.evaluate(() => JSON.stringify(veilstop.store.scene));
  await page.reload();
  await page.waitForSelector('html[data-ready]');
  await settled(page);
  assert.deepEqual(await page.evaluate(() => veilstop.faults), [], 'the file is kept');
  await close();
  const other = await open();
  await settled(other.page);
  await other.page.getByRole('button', { name: 'Scene' }).click();
  const file = { name: 'mine.json', mimeType: 'application/json', buffer: Buffer.from(scene) };
  await other.page.locator('dialog input[type=file]').setInputFiles(file);
  await other.page.waitForFunction(() => /names round.ies: choose that file together with it/.test(document.querySelector('dialog .err')?.textContent ?? ''));
  await other.page.locator('dialog input[type=file]').setInputFiles([file, { name: 'round.ies', mimeType: 'text/plain', buffer: Buffer.from(ROUND(500)) }]);
  await other.page.waitForFunction(() => !document.querySelector('dialog').open && veilstop.store.scene.lights.at(-1).file === 'round.ies');
  await other.close();
});

test('a card by two photos: patches tapped, the four numbers are their light', async () => {
  const { page, close } = await open();
  await settled(page);
  await go(page, 'card');
  // grey patches with codes whose light is known, IEC 61966-2-1: 188 is 0.503 of white, 64 is 0.0513
  const photo = (white, black) => page.evaluate(([w, b]) => {
    const c = document.createElement('canvas'), pen = c.getContext('2d');
    c.width = 640; c.height = 360;
    pen.fillStyle = '#334'; pen.fillRect(0, 0, 640, 360);
    pen.fillStyle = `rgb(${w},${w},${w})`; pen.fillRect(100, 100, 160, 160);
    pen.fillStyle = `rgb(${b},${b},${b})`; pen.fillRect(380, 100, 160, 160);
    return c.toDataURL('image/png').split(',')[1];
  }, [white, black]);
  await page.getByText('From two photos instead').click();
  const inputs = page.locator('#card details input[type=file]');
  await inputs.nth(0).setInputFiles({ name: 'before.txt', mimeType: 'image/png', buffer: Buffer.from('no picture') });
  await page.waitForSelector('#card details .err');
  await inputs.nth(0).setInputFiles({ name: 'before.png', mimeType: 'image/png', buffer: Buffer.from(await photo(200, 30), 'base64') });
  await inputs.nth(1).setInputFiles({ name: 'with.png', mimeType: 'image/png', buffer: Buffer.from(await photo(188, 64), 'base64') });
  for (const u of [180, 460, 180, 460]) {
    const said = await page.locator('#card details p[role=status]').innerText(), box = await page.locator('canvas.photo').boundingBox();
    assert.match(said, /^Tap the (white|black) patch/);
    await page.locator('canvas.photo').click({ position: { x: box.width * u / 640, y: box.height / 2 } });
    await page.waitForFunction((was) => document.querySelector('#card details p[role=status]').textContent !== was, said);
  }
  const value = async (label) => Number(await page.getByLabel(label, { exact: true }).inputValue());
  assert.ok(Math.abs(await value('White with haze') - 50.3) < 0.3, `${await value('White with haze')}`);
  assert.ok(Math.abs(await value('Black with haze') - 5.13) < 0.1, `${await value('Black with haze')}`);
  // Bouguer: what is left of white less black is exp(-k 6 m); with the codes' light by hand
  const light = (c) => (((c / 255) + 0.055) / 1.055) ** 2.4, left = (light(188) - light(64)) / (light(200) - light(30));
  await page.waitForSelector('.result .n');
  const said = Number((await page.locator('.result').innerText()).match(/([\d.]+) \/m/)[1]);
  assert.ok(Math.abs(said / (-Math.log(left) / 6) - 1) < 0.05, `${said} and ${-Math.log(left) / 6}`);
  await close();
});

test('a scout’s photo: corners tapped put the camera where it was, and the haze stands in it', async () => {
  const { page, close } = await open();
  await settled(page);
  await go(page, 'look');
  // a photo whose camera is known: the shot without haze, drawn by the core through a lens that sees two walls
  const taken = { at: [8.3, 4.4, 2], aim: [4.4, 0.4, 1.7], focal_mm: 9 };
  const photo = await page.evaluate(async (camera) => {
    veilstop.store.change('one lamp, for speed', (scene) => { Object.assign(scene.shots[0], { lights: ['bulkhead'], wants: [] }); });
    const s = structuredClone(veilstop.store.scene);
    Object.assign(s.cameras[0], camera);
    const p = await veilstop.slow().ask('picture', { scene: JSON.stringify(s), shot: 0, extinction: 0, width: 640, height: 360 }), c = document.createElement('canvas');
    c.width = 640; c.height = 360;
    c.getContext('2d').putImageData(new ImageData(p.pixels, 640, 360), 0, 0);
    veilstop.store.change('a guess', (scene) => { Object.assign(scene.cameras[0], { at: [7.8, 4, 1.6], aim: [4, 1, 1.5], focal_mm: 12 }); });
    return c.toDataURL('image/png').split(',')[1];
  }, taken);
  await page.getByText('On a photo from the scout').click();
  await page.locator('#look .scout input[type=file]').setInputFiles({ name: 'scout.png', mimeType: 'image/png', buffer: Buffer.from(photo, 'base64') });
  const X = { west: 0, east: 9 }, Y = { south: 0, north: 5 }, Z = { floor: 0, ceiling: 3.2 };
  const canvas = page.locator('.scoutview canvas');
  await canvas.waitFor();
  let tapped = 0;
  for (const z of ['floor', 'ceiling']) for (const x of ['west', 'east']) for (const y of ['south', 'north']) {
    const f = inFrame({}, { ...taken, sensor_mm: [24.9, 24.9 * 9 / 16] }, [X[x], Y[y], Z[z]]);
    if (!f || f.x < 0.01 || f.x > 0.99 || f.y < 0.01 || f.y > 0.99) continue;
    await page.locator('#scout-corner').selectOption(`${z}-${x}-${y}`);
    const box = await canvas.boundingBox();
    await canvas.click({ position: { x: f.x * box.width, y: f.y * box.height } });
    tapped++;
  }
  assert.ok(tapped >= 5, `${tapped} corners`);
  await page.getByRole('button', { name: 'Put the camera there' }).click();
  await page.waitForFunction(() => veilstop.scout.shown);
  const camera = await page.evaluate(() => veilstop.store.scene.cameras[0]);
  assert.ok(Math.hypot(...camera.at.map((v, i) => v - taken.at[i])) < 0.08, `${camera.at}`);
  assert.ok(Math.abs(camera.focal_mm / taken.focal_mm - 1) < 0.03, `${camera.focal_mm} mm`);
  await settled(page);
  const mean = () => page.evaluate(() => { const { pixels } = veilstop.pictures.now; return pixels.reduce((s, v, i) => s + (i % 4 === 3 ? 0 : v), 0) / pixels.length; });
  const shows = (k) => page.waitForFunction((d) => veilstop.pictures.now?.key === `0|${d}|photo` && veilstop.pictures.now.fine, k);
  await page.evaluate(() => veilstop.setDensity(0));
  await shows(0);
  const clear = await mean();
  await page.evaluate(() => veilstop.setDensity(0.1));
  await shows(0.1);
  const hazed = await mean();
  assert.ok(hazed > clear + 5, `a dark place is brighter in heavy haze: ${clear} to ${hazed}`);
  // a patch that was metered: the brighter the place, the less its photo shows of the same veil
  await page.getByRole('button', { name: 'A grey card', exact: true }).click();
  const tapAt = async (x, y) => { const box = await canvas.boundingBox(); await canvas.click({ position: { x: x * box.width, y: y * box.height } }); };
  const shownMetered = (nits) => page.waitForFunction((n) => veilstop.pictures.now?.key.startsWith('0|0.1|photo{') && veilstop.pictures.now.key.includes('"nits":900') === n && veilstop.pictures.now.fine, nits);
  await tapAt(0.001, 0.001);
  await page.getByText('it is too near the edge of the photo').waitFor();
  assert.equal(await page.evaluate(() => veilstop.scout.grey), null);
  await page.getByLabel('Metered (a grey card needs none)').fill('900');
  // where the photo is neither black nor clipped
  const [x, y] = await page.evaluate(() => {
    const { data, width, height } = veilstop.scout.image;
    for (let j = 20; j < height - 20; j++) for (let i = 20; i < width - 20; i++) if (data[4 * (j * width + i) + 1] > 90 && data[4 * (j * width + i) + 1] < 200) return [(i + 6) / width, (j + 6) / height];
    return null;
  });
  await tapAt(x, y);
  await shownMetered(true);
  const bright = await mean();
  assert.ok(bright < hazed - 5, `a bright place shows less of the veil: ${bright}, ${hazed}`);
  await page.getByLabel('Metered (a grey card needs none)').fill('');
  await shownMetered(false);
  assert.ok(await mean() > bright, 'a grey card is darker than that');
  // kept with its taps on reload; forgotten when it is to be
  await page.waitForFunction(() => veilstop.pictures.idle);
  const kept = () => page.evaluate(() => ({ ...veilstop.scout, image: veilstop.scout.image.data.reduce((s, v, i) => (s * 31 + v + i) % 1000003, 7) }));
  const scout = await kept();
  await page.reload();
  await page.waitForFunction(() => globalThis.veilstop?.scout);
  assert.deepEqual(await kept(), scout);
  await page.evaluate(() => veilstop.setScout({ ...veilstop.scout, shown: false, image: new ImageData(640, 4000) }));
  await page.getByText('On a photo from the scout').click();
  await page.getByText('This photo is not kept here: it is too tall').waitFor();
  // a photo that is black where the card was: told, and the view stays; one that is grey there is shown
  const blank = (code) => page.evaluate((v) => veilstop.setScout({ ...veilstop.scout, shown: true, image: new ImageData(new Uint8ClampedArray(640 * 360 * 4).fill(v), 640, 360) }), code);
  await blank(0);
  await page.getByText('The view is the one before: the haze could not be put into the photo').waitFor();
  await blank(128);
  await page.waitForFunction(() => veilstop.pictures.now?.key.startsWith('0|0.1|photo') && !veilstop.pictures.why);
  await page.getByRole('button', { name: 'Show the drawn view' }).click();
  await page.waitForFunction(() => veilstop.pictures.now?.key === '0|0.1');
  await page.getByRole('button', { name: 'Forget this photo' }).click();
  await page.waitForFunction(() => veilstop.photoKeep.read().then((kept) => kept === null));
  await close();
});
