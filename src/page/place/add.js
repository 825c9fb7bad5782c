// SPDX-License-Identifier: GPL-3.0-or-later
// What is there, added: each entry puts a thing with usable figures into a scene and says which it is.
// The figures are common practice, no source, unless one stands beside them; all can be changed at once.
import { freeName, hazersOf, namesOf, place, toFile, unitOf } from '../state/scene.js';
import { boxes, openingBox, roomAt } from './geometry.js';

// A new thing stands in the room that is looked at, its places as shares of that room.
function inRoom(scene, near, share, height) {
  const box = (near && roomAt(scene, near)) ?? boxes(scene)[0] ?? { lo: [0, 0, 0], hi: [4, 4, 2.5] };
  const at = box.lo.map((v, i) => v + (box.hi[i] - v) * share[i]);
  if (height !== undefined) at[2] = Math.min(box.lo[2] + height, box.hi[2] - 0.1);
  return toFile(scene, at.map((v) => Math.round(v * 20) / 20));
}
const lengthIn = (scene, m) => toFile(scene, [m])[0];
const push = (scene, kind, item, name) => {
  const list = (scene[kind] ??= []);
  list.push({ name: freeName(namesOf(scene, kind), name), ...item });
  return { kind, index: list.length - 1 };
};
// A light that is added burns in the shots there are.
function light(scene, item, name) {
  const ref = push(scene, 'lights', item, name);
  for (const s of scene.shots ?? []) if (s.lights) s.lights.push(scene.lights[ref.index].name);
  return ref;
}

// A free stretch of an outer wall of the room that is looked at, or of what it shares with another.
function freeWall(scene, near, other) {
  const all = boxes(scene), box = (near && roomAt(scene, near)) ?? all[0];
  const used = (scene.openings ?? []).map((o) => openingBox(scene, o));
  for (const [axis, side] of [[1, 1], [0, 1], [1, 0], [0, 0]]) {
    const along = 1 - axis, at = side ? box.hi[axis] : box.lo[axis];
    const neighbours = all.filter((b) => b !== box && Math.abs((side ? b.lo[axis] : b.hi[axis]) - at) < 1e-3
      && b.lo[along] < box.hi[along] - 0.01 && b.hi[along] > box.lo[along] + 0.01);
    if (Boolean(other) !== neighbours.length > 0) continue;
    const hi = other ? neighbours[0] : box;
    const from = Math.max(box.lo[along], hi.lo[along]), to = Math.min(box.hi[along], hi.hi[along]);
    const taken = used.filter((u) => u.axis === axis && Math.abs(u.lo[axis] - at) < 1e-3 && u.lo[along] < to && u.hi[along] > from);
    if (taken.length === 0) return { box, axis, along, at, from, to, beside: neighbours[0] };
  }
  return null;
}
function opening(scene, wall, width, bottom, height, item, name) {
  const mid = (wall.from + wall.to) / 2, half = Math.min(width, (wall.to - wall.from) * 0.8) / 2;
  const top = Math.min(wall.box.lo[2] + bottom + height, wall.box.hi[2] - 0.1);
  const corner = (at, z) => { const p = [0, 0, z]; p[wall.axis] = wall.at; p[wall.along] = at; return toFile(scene, p); };
  return push(scene, 'openings', {
    rooms: [wall.box.name, wall.beside ? wall.beside.name : 'outside'],
    corners: [corner(mid - half, wall.box.lo[2] + bottom), corner(mid + half, top)], ...item,
  }, name);
}

function windowWith(scene, near, sun) {
  const wall = freeWall(scene, near, false);
  if (!wall) return null;
  const ref = opening(scene, wall, 1.2, 0.9, 1.2, { transmittance: 0.8 }, 'window');
  const name = scene.openings[ref.index].name, inward = [0, 0, 0];
  inward[wall.axis] = wall.at === wall.box.hi[wall.axis] ? -1 : 1;
  light(scene, { kind: 'sky', through: name, nits: 3000, kelvin: 6500 }, `${name} sky`);
  if (!sun) return ref;
  const direction = [...inward];
  direction[wall.along] = 0.4;
  direction[2] = -0.7;
  return light(scene, { kind: 'sun', through: name, direction, lux: 60000, kelvin: 5600 }, `${name} sun`);
}

function addRoom(scene, near) {
  const all = boxes(scene);
  if (all.length === 0) return push(scene, 'rooms', { corner: [0, 0, 0], size: toFile(scene, [5, 4, 2.6]) }, 'room');
  const box = (near && roomAt(scene, near)) ?? all[0], size = [3, 3, 2.6];
  const meets = (a, b, slack) => a.lo.every((v, i) => v < b.hi[i] + slack && a.hi[i] > b.lo[i] - slack);
  const outer = (scene.openings ?? []).filter((o) => o.rooms.includes('outside')).map((o) => openingBox(scene, o));
  const fits = ([x, y]) => {
    const mine = { lo: [x, y, box.lo[2]], hi: [x + size[0], y + size[1], box.lo[2] + size[2]] };
    return !all.some((b) => meets(mine, b, -1e-3)) && !outer.some((o) => meets(mine, o, 1e-3));
  };
  const [x, y] = [[box.hi[0], box.lo[1]], [box.lo[0] - size[0], box.lo[1]], [box.lo[0], box.hi[1]], [box.lo[0], box.lo[1] - size[1]]].find(fits)
    ?? [Math.max(...all.map((b) => b.hi[0])) + 1, box.lo[1]]; // apart: to be moved against a wall
  return push(scene, 'rooms', { corner: toFile(scene, [x, y, box.lo[2]]), size: toFile(scene, size) }, 'room');
}

function addCamera(scene, near) {
  const ref = push(scene, 'cameras', { at: inRoom(scene, near, [0.1, 0.5, 0], 1.5), aim: inRoom(scene, near, [0.95, 0.5, 0], 1.4),
    focal_mm: 32, t_stop: 2.8, iso: 800 }, 'ABCDEFGHIJ'[scene.cameras?.length ?? 0] ?? 'camera');
  if (!scene.shots?.length) addShot(scene, scene.cameras[ref.index].name);
  return ref;
}

// A shot with medium haze and half an hour: something to start from.
export function addShot(scene, camera) {
  (scene.shots ??= []).push({ name: freeName(namesOf(scene, 'shots'), `shot ${scene.shots.length + 1}`), camera, extinction_per_m: 0.03, minutes: 30 });
  return scene.shots.length - 1;
}

function addBounce(scene, near) {
  const from = (scene.lights ?? []).find((l) => ['spot', 'sun', 'lamp'].includes(l.kind));
  if (!from) return null;
  return light(scene, { kind: 'panel', at: inRoom(scene, near, [0.5, 0.85, 0], 1.2), aim: inRoom(scene, near, [0.5, 0.4, 0], 1.5),
    size: toFile(scene, [1.2, 1.2]), fed_by: { light: from.name, reflectance: 0.8 } }, 'bounce board');
}

function addPoint(scene, near, shot) {
  const s = scene.shots?.[shot];
  if (!s) return null;
  const points = (s.points ??= []);
  points.push({ name: freeName(points.map((p) => p.name), 'place'), at: inRoom(scene, near, [0.6, 0.5, 0], 1.5), reflectance: 0.3 });
  return { kind: 'points', index: points.length - 1, shot };
}

function addHazer(scene, near) {
  const room = ((near && roomAt(scene, near)) ?? boxes(scene)[0])?.name;
  const item = { room, fluid_ml_per_h: 30 };
  scene.hazer = scene.hazer ? [...hazersOf(scene), item] : item;
  return { kind: 'hazer', index: hazersOf(scene).length - 1 };
}

function addDetector(scene, near) {
  const list = ((scene.venue ??= {}).detectors ??= []);
  list.push({ name: freeName(list.map((d) => d.name), 'ceiling head'), room: ((near && roomAt(scene, near)) ?? boxes(scene)[0])?.name, kind: 'point' });
  return { kind: 'detectors', index: list.length - 1 };
}

// group, words, what it adds; add(scene, near, shot) gives the new thing, null where it cannot be.
export const WHAT_IS_THERE = [
  ['Light', 'A window with sun', (s, near) => windowWith(s, near, true), 'no outer wall is free for a window'],
  ['Light', 'A window without sun', (s, near) => windowWith(s, near, false), 'no outer wall is free for a window'],
  ['Light', 'A bare bulb', (s, near) => light(s, { kind: 'lamp', at: inRoom(s, near, [0.6, 0.3, 0], 2.1), lumens: 800, kelvin: 2700 }, 'bulb')],
  ['Light', 'A torch', (s, near) => light(s, { kind: 'spot', at: inRoom(s, near, [0.35, 0.6, 0], 1.3), aim: inRoom(s, near, [0.95, 0.35, 0], 1.1), beam_deg: 7, field_deg: 16, candela: 6000, kelvin: 4000 }, 'torch')],
  ['Light', 'A film lamp', (s, near) => light(s, { kind: 'spot', at: inRoom(s, near, [0.85, 0.85, 0], 2.3), aim: inRoom(s, near, [0.4, 0.5, 0], 1.4), beam_deg: 25, field_deg: 45, lux: 400, lux_at: lengthIn(s, 3), kelvin: 5600 }, 'film lamp')],
  ['Light', 'A soft frame', (s, near) => light(s, { kind: 'panel', at: inRoom(s, near, [0.15, 0.85, 0], 2.2), aim: inRoom(s, near, [0.5, 0.5, 0], 1.4), size: toFile(s, [1.2, 0.9]), lux: 60, lux_at: lengthIn(s, 3), kelvin: 5600 }, 'soft frame')],
  ['Light', 'A tube', (s, near) => light(s, { kind: 'tube', from: inRoom(s, near, [0.4, 0.5, 0], 2.4), to: inRoom(s, near, [0.65, 0.5, 0], 2.4), lumens: 2000, kelvin: 4000 }, 'tube')],
  ['Light', 'A measured lamp', (s, near) => light(s, { kind: 'photometry', file: 'bulkhead.ies', at: inRoom(s, near, [0.5, 0.5, 0], 2.2), aim: inRoom(s, near, [0.5, 0.5, 0], 0.5) }, 'measured lamp')],
  ['Light', 'A bounce board', addBounce, 'a bounce board needs a lamp or a sun that lights it: add that first'],
  ['Set', 'A person', (s, near) => push(s, 'figures', { at: inRoom(s, near, [0.45, 0.5, 0], 0), height: unitOf(s) === 'ft' ? "5'9\"" : 1.75, facing_deg: 270 }, 'person')],
  ['Set', 'A black solid', (s, near) => push(s, 'blockers', { at: inRoom(s, near, [0.7, 0.7, 0], 1.2), aim: inRoom(s, near, [0.7, 0.4, 0], 1.2), size: toFile(s, [1.2, 1.2]) }, 'solid')],
  ['Set', 'A net', (s, near) => push(s, 'blockers', { at: inRoom(s, near, [0.3, 0.7, 0], 1.5), aim: inRoom(s, near, [0.3, 0.4, 0], 1.5), size: toFile(s, [0.6, 0.6]), transmittance: 0.5, reflectance: 0.03 }, 'net')],
  ['Set', 'A place to look at', addPoint, 'a place to look at belongs to a shot: add a camera first'],
  ['Work', 'A camera', addCamera],
  ['Work', 'A hazer', addHazer],
  ['Work', 'A smoke detector', addDetector],
  ['Building', 'Another room', addRoom],
  ['Building', 'A door to the next room', (s, near) => {
    const wall = freeWall(s, near, true);
    return wall && opening(s, wall, 0.9, 0, 2, {}, 'door');
  }, 'no wall is shared with another room, or a door is in it: move a room against this one'],
  ['Building', 'A way out of doors', (s, near) => {
    const wall = freeWall(s, near, false);
    return wall && opening(s, wall, 1, 0, 2, { exchange_m3_per_h: 100 }, 'outer door');
  }, 'no outer wall is free for a door'],
];
