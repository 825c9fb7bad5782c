// SPDX-License-Identifier: GPL-3.0-or-later
// What the page knows and what it makes of it, against the core's own answers: a doubt about lengths, a
// photo whose shot is renamed, a reading of the card that is unsure, the marks of a choice.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { openBridge } from '../../../src/page/core/bridge.js';
import { verdictOf } from '../../../src/page/day/card.js';
import { choiceMarks, scaleOf, stick } from '../../../src/page/look/haze.js';
import { createKeep } from '../../../src/page/state/keep.js';
import { Model } from '../../../src/page/state/model.js';
import { rename } from '../../../src/page/state/scene.js';

const read = (name) => readFileSync(new URL(`../../../${name}`, import.meta.url), 'utf8');
const washroom = JSON.parse(read('data/demo/washroom.json'));
const bridge = await openBridge(await WebAssembly.compile(readFileSync(process.env.VS_CORE)));

// A page's model without a page: the core answers at once, nothing is drawn.
const core = { ask: async (question, args) => bridge[question](args) };
const drawing = { ask: () => new Promise(() => {}) };
function modelOf(scene, photoKeep = null) {
  return new Model({ scene, keep: createKeep(() => null), photoKeep, core, slow: () => core, drawing });
}

test('lengths that look like another unit are asked about, in the core’s words', async () => {
  const far = modelOf(JSON.parse(read('tests/cli/scenes/centimetres.json'))), near = modelOf(washroom);
  assert.equal(far.doubt, null); // nothing was asked yet
  await far.askAll();
  await near.askAll();
  assert.equal(far.doubt, 'washroom is 420 x 300 x 260 m: is every length in the unit meant? One without a unit is in m.');
  assert.equal(near.doubt, null);
  far.store.change('centimetres', (s) => Object.assign(s, JSON.parse(JSON.stringify(washroom))));
  await far.askAll();
  assert.equal(far.doubt, null);
});

test('a scout’s photo follows its shot’s name, there and back, and stays where the shot goes', async () => {
  const kept = [], photoKeep = { read: async () => null, write: async (scout) => { kept.push(scout?.shot); return null; } };
  const model = modelOf(washroom, photoKeep), [first, second] = washroom.shots.map((s) => s.name);
  await model.setScout({ width: 4, height: 3, image: { width: 4, height: 3, data: new Uint8ClampedArray(48) }, shot: first, pairs: [], grey: null, shown: false });
  model.store.change('renamed', (s) => rename(s, 'shots', 0, 'through the mirror'));
  assert.equal(model.scout.shot, 'through the mirror');
  model.store.change('renamed another', (s) => rename(s, 'shots', 1, 'the door'));
  assert.equal(model.scout.shot, 'through the mirror');
  model.store.undo();
  model.store.undo();
  assert.equal(model.scout.shot, first);
  model.store.change('another order', (s) => { s.shots.reverse(); });
  assert.equal(model.scout.shot, first);
  assert.notEqual(first, second);
  assert.deepEqual(kept, [first, 'through the mirror', first]); // kept anew with each name
});

// Give or take over the figure, by the formula of JCGM 100:2008, 5.1.2, for a quotient of differences of
// four independent figures, each uncertain by 0.1 stop (docs/physics.md, "shot: readings").
function unsureBy([cw, cb], [hw, hb]) {
  const u = 0.1 * Math.LN2, part = (w, b) => (w * w + b * b) / (w - b) ** 2;
  return u * Math.sqrt(part(cw, cb) + part(hw, hb)) / Math.log((cw - cb) / (hw - hb));
}
function readCard(clear, hazed) {
  const reading = { min: 30, room: washroom.rooms[0].name, distance_m: 3, lit_from_m: 0, clear: { white: clear[0], black: clear[1] }, hazed: { white: hazed[0], black: hazed[1] } };
  const scene = JSON.stringify({ ...washroom, readings: [reading] }), written = bridge.run({ command: 'reading', scene, options: ['write=out.json'], written: ['out.json'] });
  const { answer } = written.answer ? written : bridge.run({ command: 'reading', scene });
  return { mine: answer.readings.at(-1), topUp: answer.top_up };
}

test('a card that is unsure by over a fifth is read again, by over half it is not used', () => {
  const cases = [
    { hazed: [40, 15], sure: true, usable: true },
    { hazed: [84, 12], sure: false, usable: true },
    { hazed: [95, 5], sure: false, usable: false },
  ];
  for (const { hazed, sure, usable } of cases) {
    const { mine, topUp } = readCard([100, 4], hazed), verdict = verdictOf(mine, topUp), by = unsureBy([100, 4], hazed);
    assert.ok(Math.abs(verdict.unsure / by - 1) < 0.05, `${verdict.unsure}, by hand ${by}`); // the haze is not quite grey
    assert.deepEqual([verdict.sure, verdict.usable], [sure, usable], `unsure by ${by}`);
  }
  const { mine } = readCard([100, 4], [101, 4]), none = verdictOf(mine, null); // within the meter's error
  assert.deepEqual([none.unsure, none.sure, none.usable], [Infinity, false, false]);
});

test('only a sure card says how long to top up, and only where the hazer has to run', () => {
  const topUp = { shot: '1', run_s: 40, at_min: 12 }, of = (share) => ({ extinction_per_m: 0.02, uncertainty_per_m: 0.02 * share });
  assert.equal(verdictOf(of(0.19), topUp).topUp, topUp);
  assert.equal(verdictOf(of(0.21), topUp).topUp, null);
  assert.equal(verdictOf(of(0.19), { ...topUp, run_s: 0 }).topUp, null);
  assert.equal(verdictOf(of(0.19), { ...topUp, run_s: null }).topUp, null);
  assert.equal(verdictOf(of(0.19), null).topUp, null);
});

test('the best stands in the wanted band, where the control gives that density', () => {
  const shots = bridge.run({ command: 'choose', scene: JSON.stringify(washroom) }).answer.shots;
  let banded = 0;
  for (const { extinction_per_m: band } of shots) {
    const scale = scaleOf(band.highest ?? 0), marks = choiceMarks(scale, band);
    assert.ok(Math.abs(scale.density(marks.best) / band.recommended - 1) < 1e-5);
    if (!marks.band) continue;
    banded++;
    assert.ok(marks.band[0] <= marks.best && marks.best <= marks.band[1]);
    assert.equal(stick(marks.best, marks.best + 0.007), marks.best);
    assert.equal(stick(marks.best, marks.best - 0.009), marks.best - 0.009);
  }
  assert.ok(banded > 0);
});

test('its word stands before it at the thick end; without a choice, or for no haze, there is none', () => {
  const scale = scaleOf(), at = (best) => choiceMarks(scale, { lowest: null, highest: null, recommended: best });
  assert.deepEqual(at(0.02), { band: null, best: scale.place(0.02), back: false });
  assert.equal(at(0.1).back, true);
  assert.ok(scale.place(0.1) > 0.7);
  assert.deepEqual(at(0), { band: null, best: null, back: false });
  assert.deepEqual(choiceMarks(scale, undefined), { band: null, best: null, back: false });
  assert.equal(stick(null, 0.5), 0.5);
});
