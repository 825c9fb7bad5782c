// SPDX-License-Identifier: GPL-3.0-or-later
// The place's geometry against closed forms, and that what is moved leaves a scene whole.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import * as geometry from '../../../src/page/place/geometry.js';
import { placeLabels } from '../../../src/page/place/labels.js';
import { handlesOf, hull, rectangle, shapesOf } from '../../../src/page/place/shapes.js';
import { hitFigure, scaleOf } from '../../../src/page/look/haze.js';

const { AXES } = geometry;
const demo = (name) => JSON.parse(readFileSync(new URL(`../../../data/demo/${name}.json`, import.meta.url), 'utf8'));
const near = (got, want, by = 1e-9) => got.forEach((v, i) => assert.ok(Math.abs(v - want[i]) <= by, `${got} is not ${want}`));
const two = () => ({ veilstop: 1, rooms: [{ name: 'a', corner: [0, 0, 0], size: [5, 4, 3] }, { name: 'b', corner: [5, 0, 0], size: [3, 4, 2.5] }],
  openings: [{ name: 'door', rooms: ['a', 'b'], corners: [[5, 1, 0], [5, 2, 2]] }, { name: 'window', rooms: ['a', 'outside'], corners: [[1, 4, 1], [2, 4, 2]] }],
  cameras: [{ name: 'A', at: [1, 2, 1.5], aim: [4, 2, 1.5] }] });

test('places snap to 5 cm, or to 2 inches', () => {
  assert.equal(geometry.snap(1.237, geometry.stepOf('m')), 1.25);
  assert.ok(Math.abs(geometry.snap(1.0, geometry.stepOf('ft')) - 20 * 0.0508) < 1e-6);
});

test('a wall that is dragged takes its neighbour and its openings along', () => {
  const s = two();
  geometry.moveWall(s, 0, 0, 1, 5.6);
  near(s.rooms[0].size, [5.6, 4, 3]);
  near(s.rooms[1].corner, [5.6, 0, 0]);
  near(s.rooms[1].size, [2.4, 4, 2.5], 1e-6);
  assert.deepEqual(s.openings[0].corners.map((c) => c[0]), [5.6, 5.6]);
  assert.deepEqual(s.openings[1].corners.map((c) => c[1]), [4, 4]);
});

test('a wall stops before it closes a room, or meets another room', () => {
  const s = two();
  geometry.moveWall(s, 0, 0, 1, -3);
  assert.ok(s.rooms[0].size[0] >= 0.5 - 1e-9);
  const apart = two();
  apart.openings = [];
  apart.rooms[1].corner = [6, 0, 0];
  geometry.moveWall(apart, 0, 0, 1, 7);
  near(apart.rooms[0].size, [6, 4, 3]);
});

test('a room that is dragged takes its door along; the neighbour’s wall follows, by hand', () => {
  const s = two(), to = (x, y) => geometry.moveTo(s, { kind: 'rooms', index: 1 }, 'at', AXES.above, [x, y]);
  to(7.5, 2.5); // from 6.5, 2: 1 m east, 0.5 m north
  near(s.rooms[1].corner, [6, 0.5, 0]);
  near(s.rooms[1].size, [3, 4, 2.5]);
  near(s.rooms[0].size, [6, 4, 3]);
  near(s.openings[0].corners.flat(), [6, 1.5, 0, 6, 2.5, 2]);
  near(s.openings[1].corners.flat(), [1, 4, 1, 2, 4, 2]);
  to(7.5, 6); // north until the shared wall is as wide as the door, and no further
  assert.deepEqual(s.rooms[1].corner, [6, 0.5, 0]);
  to(7.5, 5); // 3 to 4 is shared then: the door stands in it
  near(s.openings[0].corners.flat(), [6, 3, 0, 6, 4, 2]);
});

test('a room that is dragged stops before it squeezes out its neighbour’s window, camera or itself', () => {
  const s = two(), to = (x) => geometry.moveTo(s, { kind: 'rooms', index: 1 }, 'at', AXES.above, [x, 2]);
  to(3.2); // a would be 1.7 m long: its window slides, its camera at 1 m is within
  near(s.rooms[0].size, [1.7, 4, 3]);
  near(s.openings[1].corners.flat(), [0.7, 4, 1, 1.7, 4, 2]);
  to(2.4); // 0.9 m: the window of 1 m has no wall, the camera no room
  near(s.rooms[0].size, [1.7, 4, 3]);
  const shut = two();
  shut.openings.pop();
  geometry.moveTo(shut, { kind: 'rooms', index: 1 }, 'at', AXES.above, [2.4, 2]);
  near(shut.rooms[0].size, [5, 4, 3]);
});

test('a passage between two doors: one neighbour grows, the other shrinks', () => {
  const s = demo('cellar'), before = geometry.boxes(s);
  geometry.moveTo(s, { kind: 'rooms', index: 1 }, 'at', AXES.above, [11.5, 2.5]);
  const [cellar, passage, bay] = geometry.boxes(s);
  near(cellar.hi, [9.5, 5, 3.2], 1e-6);
  near(passage.lo, [9.5, 1.6, 0], 1e-6);
  near(bay.lo, [13.5, -1, 0], 1e-6);
  near(bay.hi, before[2].hi, 1e-6);
  near(s.lights.find((l) => l.name === 'passage bulkhead').at, [11.5, 1.65, 2], 1e-6);
});

test('an opening slides in its wall and no further', () => {
  const s = two();
  geometry.moveTo(s, { kind: 'openings', index: 0 }, 'at', AXES.above, [9, 9]);
  assert.deepEqual(s.openings[0].corners, [[5, 3, 0], [5, 4, 2]]);
  geometry.moveTo(s, { kind: 'openings', index: 0 }, 'at', AXES.across, [0, 9]);
  assert.deepEqual(s.openings[0].corners, [[5, 0, 0.5], [5, 1, 2.5]]);
});

test('a camera that is dragged out of the walls stays inside', () => {
  const s = two();
  geometry.moveTo(s, { kind: 'cameras', index: 0 }, 'at', AXES.above, [-2, 9]);
  near(s.cameras[0].at, [0.05, 3.95, 1.5]);
});

test('a ray to the wall of a box, by hand', () => {
  assert.equal(geometry.toWall({ lo: [0, 0, 0], hi: [4, 4, 4] }, [1, 1, 1], [1, 0, 0]), 3);
  assert.ok(Math.abs(geometry.toWall({ lo: [0, 0], hi: [4, 3] }, [1, 1], [0.6, 0.8]) - 2.5) < 1e-12);
});

test('a mark in the frame and the place that it looks at are each other’s inverse', () => {
  const s = two(), camera = { ...s.cameras[0], aim: [4.3, 2.9, 1.1], focal_mm: 28, sensor_mm: [24.9, 14] };
  for (const [x, y] of [[0.5, 0.5], [0.1, 0.3], [0.8, 0.9]]) {
    const { wall } = geometry.seenAt(s, camera, x, y), back = geometry.inFrame(s, camera, wall);
    near([back.x, back.y], [x, y], 1e-9);
  }
  assert.equal(geometry.inFrame(s, camera, [0, 2, 1.5]), null);
});

test('the angle of view is that of sensor and lens', () => {
  // 24.9 mm behind 35 mm: 2 atan(24.9 / 70) = 39.2 degrees
  assert.ok(Math.abs(geometry.angleOfView({}) * 180 / Math.PI - 39.17) < 0.01);
});

test('the sun’s way by azimuth and elevation: at 180 and 45 it goes north and down', () => {
  near(geometry.sunWay({ sun: { azimuth_deg: 180, elevation_deg: 45 } }), [0, Math.SQRT1_2, -Math.SQRT1_2], 1e-12);
});

test('the end of the cellar’s sun, from its direction and by hand', () => {
  const s = demo('cellar'), light = s.lights.find((l) => l.kind === 'sun'), { from, end } = geometry.sunEnd(s, light);
  near(from, [5, 3.8, 3.2]);
  near(end, [5 - 0.3 * 3.2, 3.8 + 0.05 * 3.2, 0], 1e-6);
});

test('a panel’s corners: its width is level, along x where it looks down', () => {
  const c = rectangle([0, 0, 1], [0, 5, 1], [2, 1]);
  assert.deepEqual(c.map((p) => p.map((v) => Number(v.toFixed(9)) + 0)), [[-1, 0, 0.5], [1, 0, 0.5], [1, 0, 1.5], [-1, 0, 1.5]]);
  assert.ok(rectangle([0, 0, 1], [0, 0, 0], [2, 1]).every((p) => Math.abs(Math.abs(p[0]) - 1) < 1e-9));
});

test('an outline holds every point', () => {
  const h = hull([[0, 0], [2, 0], [1, 1], [2, 2], [0, 2], [1, 0.5]]);
  assert.equal(h.length, 4);
});

test('each thing of each demo has a shape or a handle, with numbers alone', () => {
  for (const name of ['cellar', 'yard', 'loft', 'washroom']) {
    const s = demo(name);
    for (const view of ['above', 'along', 'across']) {
      const text = JSON.stringify([shapesOf(s, 0, view), handlesOf(s, 0, view)]);
      assert.ok(!/null|NaN|Infinity/.test(text), `${name} ${view}: ${text.match(/.{40}(null|NaN|Infinity)/)?.[0]}`);
    }
    assert.ok(handlesOf(s, 0, 'above').length >= s.cameras.length + s.openings.length);
  }
});

test('names do not lie over one another', () => {
  const marks = Array.from({ length: 14 }, (_, i) => ({ x: 60 + 18 * (i % 5), y: 60 + 14 * Math.floor(i / 5), r: 8, text: `thing ${i}`, rank: i }));
  const boxes = placeLabels(marks, [0, 0, 360, 300]).map((l, i) => l && { x: l.anchor === 'start' ? l.x : l.anchor === 'end' ? l.x - 7.1 * marks[i].text.length : l.x - 3.55 * marks[i].text.length, y: l.y - 12, w: 7.1 * marks[i].text.length, h: 16 }).filter(Boolean);
  assert.ok(boxes.length >= 4);
  boxes.forEach((b) => assert.ok(b.x >= 0 && b.y >= 0 && b.x + b.w <= 360 && b.y + b.h <= 300, 'within the drawing'));
  assert.deepEqual(placeLabels([{ x: 400, y: 50, r: 8, text: 'out of sight', rank: 0 }], [0, 0, 360, 300]), [null]);
  boxes.forEach((a, i) => boxes.slice(i + 1).forEach((b) => assert.ok(!(a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h))));
});

test('a line of sight meets a person or passes', () => {
  const s = { figures: [{ name: 'p', at: [3, 0, 0], height: 1.8 }] };
  assert.equal(hitFigure(s, [0, 0, 1.5], [1, 0, 0]).name, 'p');
  assert.equal(hitFigure(s, [0, 1, 1.5], [1, 0, 0]), null);
  assert.equal(hitFigure(s, [0, 0, 1.5], [-1, 0, 0]), null);
});

test('the haze control’s scale goes there and back', () => {
  const scale = scaleOf();
  assert.equal(scale.density(0), 0);
  for (const k of [0.002, 0.01, 0.03, 0.08, 0.12]) assert.ok(Math.abs(scale.density(scale.place(k)) / k - 1) < 1e-5);
  assert.ok(scaleOf(0.5).place(0.5) < 1);
});
