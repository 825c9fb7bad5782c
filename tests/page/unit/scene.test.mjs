// SPDX-License-Identifier: GPL-3.0-or-later
// Things renamed, taken away and added: what comes out is held against the core's own reader, which lists
// every fault of a scene.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { openBridge } from '../../../src/page/core/bridge.js';
import { WHAT_IS_THERE } from '../../../src/page/place/add.js';
import { fieldsOf } from '../../../src/page/place/fields.js';
import { AXES, moveTo, placeOf } from '../../../src/page/place/geometry.js';
import { startScene, STARTS } from '../../../src/page/state/starts.js';
import { LISTS, listOf, namesOf, parseScene, remove, rename, renamedTo, setDensity, tidy } from '../../../src/page/state/scene.js';

const data = new URL('../../../data/demo/', import.meta.url);
const read = (name) => readFileSync(new URL(name, data), 'utf8');
const scenes = Object.fromEntries(['cellar.json', 'yard.json', 'loft.json', 'washroom.json'].map((n) => [n, read(n)]));
const core = await openBridge(await WebAssembly.compile(readFileSync(process.env.VS_CORE)), { 'bulkhead.ies': read('bulkhead.ies') });
const faults = (scene) => core.check({ scene: JSON.stringify(scene) });
const whole = (scene, what) => assert.deepEqual(faults(scene), [], what);

test('each start is a scene', () => { for (const [name] of STARTS) whole(startScene(name, scenes), name); });

test('a thing renamed is renamed wherever it is named', () => {
  for (const file of Object.keys(scenes)) {
    const s = JSON.parse(scenes[file]);
    for (const kind of [...LISTS, 'shots']) namesOf(s, kind).forEach((_, i) => { rename(s, kind, i, `new ${kind} ${i}`); whole(s, `${file} ${kind} ${i}`); });
    s.shots.forEach((_, shot) => namesOf(s, 'points', shot).forEach((name, i) => {
      if (s.shots.some((q) => q.wants?.some((w) => w.want === 'like' && w.at === name))) return; // both shots must have it
      rename(s, 'points', i, `p${i}`, shot);
    }));
    whole(s, `${file} points`);
  }
});

test('a thing taken away leaves no fault but that of a camera, room or like that others need', () => {
  for (const file of Object.keys(scenes)) {
    const count = JSON.parse(scenes[file]);
    for (const kind of ['lights', 'openings', 'blockers', 'figures', 'cameras', 'shots', 'hazer', 'detectors']) {
      for (let i = 0; i < listOf(count, kind).length; i++) {
        const s = JSON.parse(scenes[file]);
        remove(s, kind, i);
        tidy(s);
        whole(s, `${file} without ${kind} ${i}`);
      }
    }
  }
});

test('all that can be added to each start is a scene, one after the other', () => {
  for (const [name] of STARTS) {
    const s = startScene(name, scenes);
    let added = 0;
    for (const [, words, make, why] of [...WHAT_IS_THERE, ...WHAT_IS_THERE]) {
      const before = JSON.stringify(s), ref = make(s, null, 0);
      if (!ref) { assert.ok(why, `${words} gives a reason`); assert.equal(JSON.stringify(s), before, `${words} changed something`); continue; }
      added++;
      tidy(s);
      whole(s, `${name} with ${words}`);
      assert.ok(listOf(s, ref.kind, 0)[ref.index], words);
    }
    assert.ok(added > 20, `${name}: ${added}`);
  }
});

test('each field writes back what it reads', () => {
  for (const file of Object.keys(scenes)) {
    const s = JSON.parse(scenes[file]);
    for (const kind of [...LISTS, 'hazer', 'points', 'detectors']) {
      listOf(s, kind, 0).forEach((item, index) => {
        for (const f of fieldsOf(s, { kind, index, shot: 0 })) {
          const value = f.get(s, item);
          if (value === undefined || f.kind === 'choice' || f.kind === 'flag') continue;
          assert.ok(Number.isFinite(value), `${file} ${kind} ${index} ${f.label}: ${value}`);
          f.set(s, item, value);
          const again = f.get(s, item);
          assert.ok(Math.abs(again - value) <= 1e-4 * Math.max(1, Math.abs(value)), `${f.label}: ${value} became ${again}`);
        }
      });
    }
    whole(s, file);
  }
});

test('a bare lamp by a meter reading: candelas are lux times the distance squared', () => {
  const s = startScene('An empty room', scenes);
  WHAT_IS_THERE.find(([, w]) => w === 'A bare bulb')[2](s, null);
  const set = (label, v) => fieldsOf(s, { kind: 'lights', index: 0 }).find((f) => f.label === label).set(s, s.lights[0], v);
  set('Known by', 'meter');
  set('at this distance', 3);
  set('Meter reads', 25);
  assert.equal(s.lights[0].candela, 225);
  whole(s, 'a metered lamp');
});

test('a density takes the place of a mass, and of its own room in a map', () => {
  const s = JSON.parse(scenes['cellar.json']);
  setDensity(s, 3, 0.021, 'cellar');
  assert.equal(s.shots[3].extinction_per_m, 0.021);
  assert.equal(s.shots[3].mass_mg_per_m3, undefined);
  s.shots[0].extinction_per_m = { cellar: 0.02, passage: 0.01 };
  setDensity(s, 0, 0.05, 'cellar');
  assert.deepEqual(s.shots[0].extinction_per_m, { cellar: 0.05, passage: 0.01 });
});

test('what is no scene is refused with a reason', () => {
  assert.match(parseScene('{').why, /no JSON/);
  assert.match(parseScene('[1]').why, /no scene/);
  assert.match(parseScene('{"rooms":[]}').why, /veilstop/);
  assert.equal(parseScene('{"veilstop":1}').why, undefined);
});

test('rooms dragged hither and thither leave scenes whole', () => {
  let moves = 0;
  for (const file of Object.keys(scenes)) {
    const s = JSON.parse(scenes[file]);
    for (let n = 0; n < 24; n++) {
      const index = n % s.rooms.length, mid = placeOf(s, { kind: 'rooms', index }), by = [[0.4, 0], [-0.25, 0.3], [0.1, -0.6], [-1.5, 0.05]][(n >> 2) % 4];
      const before = JSON.stringify(s.rooms);
      moveTo(s, { kind: 'rooms', index }, 'at', AXES.above, [mid[0] + by[0], mid[1] + by[1]]);
      moves += JSON.stringify(s.rooms) !== before;
      if (n % 4 !== 3) continue; // the core's reader takes its time
      // what a wall has moved over is told: things of the neighbour that now stand outside
      const bad = faults(tidy(s)).filter((f) => /^\/(rooms|openings|cameras|figures)/.test(f.where));
      assert.deepEqual(bad, [], `${file}, room ${index}, step ${n}`);
    }
  }
  assert.ok(moves > 40, `${moves} moves`);
});

test('one name among others is followed, and nothing else is', () => {
  assert.equal(renamedTo(['1 wide', '2'], ['1 wider', '2'], '1 wide'), '1 wider');
  assert.equal(renamedTo(['1 wider', '2'], ['1 wide', '2'], '1 wider'), '1 wide'); // undone
  assert.equal(renamedTo(['a', 'b'], ['b', 'a'], 'a'), null); // reordered
  assert.equal(renamedTo(['a', 'b'], ['b'], 'a'), null); // taken away
  assert.equal(renamedTo(['a', 'b'], ['c', 'd'], 'a'), null); // another scene
  assert.equal(renamedTo(['a'], ['a', 'b'], 'a'), null);
});
