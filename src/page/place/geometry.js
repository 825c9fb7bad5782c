// SPDX-License-Identifier: GPL-3.0-or-later
// The place in metres: boxes, openings in their walls, rays to a wall, and what moving a thing or a wall
// means. Pure: scenes in, scenes changed by the caller's copy. x east, y north, z up.
import { hazersOf, listOf, nameOf, place, toFile, unitOf } from '../state/scene.js';
import { metres, M_PER_FT } from '../state/units.js';

const SAME = 1e-3;        // [m] two walls are one: a thousandth, as drawn by hand
const LEAST_ROOM = 0.5;   // [m] a wall is not dragged past this
export const AXES = { above: [0, 1], along: [0, 2], across: [1, 2] };

// Dragged places stand on a grid of 5 cm, or of 2 inches.
export const stepOf = (unit) => (unit === 'ft' ? M_PER_FT / 6 : 0.05);
export const snap = (m, step) => Number((Math.round(m / step) * step).toFixed(6));

function boxOf(scene, room) {
  const lo = place(scene, room.corner ?? [0, 0, 0]), size = place(scene, room.size);
  return { lo, hi: lo.map((v, i) => v + size[i]) };
}
export const boxes = (scene) => (scene.rooms ?? []).map((r, i) => ({ name: nameOf(r, 'rooms', i), ...boxOf(scene, r) }));

export function bounds(list) {
  const lo = [0, 1, 2].map((i) => Math.min(...list.map((b) => b.lo[i])));
  const hi = [0, 1, 2].map((i) => Math.max(...list.map((b) => b.hi[i])));
  return { lo, hi };
}
const inside = (box, p, slack = SAME) => p.every((v, i) => v >= box.lo[i] - slack && v <= box.hi[i] + slack);
export const roomAt = (scene, p) => boxes(scene).find((b) => inside(b, p)) ?? null;

// The nearest place in a room, a hand off its walls.
function keepInside(scene, p, margin = 0.05) {
  const all = boxes(scene);
  if (all.length === 0 || all.some((b) => inside(b, p))) return p;
  const put = (b) => p.map((v, i) => Math.min(Math.max(v, b.lo[i] + margin), b.hi[i] - margin));
  const far = (q) => q.reduce((s, v, i) => s + (v - p[i]) ** 2, 0);
  return all.map(put).sort((a, b) => far(a) - far(b))[0];
}

// How far a ray goes in a box before its wall.
export function toWall(box, from, direction) {
  let t = Infinity;
  for (let i = 0; i < from.length; i++) {
    if (Math.abs(direction[i]) < 1e-9) continue;
    const end = direction[i] > 0 ? box.hi[i] : box.lo[i];
    t = Math.min(t, Math.max(0, (end - from[i]) / direction[i]));
  }
  return Number.isFinite(t) ? t : 0;
}

// An opening: its two corners in order, and the axis it is square to.
export function openingBox(scene, opening) {
  const [a, b] = opening.corners.map((c) => place(scene, c));
  const lo = a.map((v, i) => Math.min(v, b[i])), hi = a.map((v, i) => Math.max(v, b[i]));
  const axis = [0, 1, 2].find((i) => hi[i] - lo[i] < 1e-9) ?? 0;
  return { lo, hi, axis };
}
const middle = ({ lo, hi }) => lo.map((v, i) => (v + hi[i]) / 2);
const setOpening = (scene, o, lo, hi) => { o.corners = [toFile(scene, lo), toFile(scene, hi)]; };

// The wall that an opening may lie in: what its rooms share.
function wallOf(scene, opening, axis) {
  const of = boxes(scene).filter((b) => opening.rooms.includes(b.name));
  const lo = [0, 1, 2].map((i) => Math.max(...of.map((b) => b.lo[i])));
  const hi = [0, 1, 2].map((i) => Math.min(...of.map((b) => b.hi[i])));
  return { lo: lo.map((v, i) => (i === axis ? -Infinity : v)), hi: hi.map((v, i) => (i === axis ? Infinity : v)) };
}

const unit = (v) => { const n = Math.hypot(...v) || 1; return v.map((x) => x / n); };
const openingOf = (scene, name) => (scene.openings ?? []).find((o, i) => nameOf(o, 'openings', i) === name);
export const windowsOf = (light) => [light.through ?? []].flat();

// The way a sun's light goes.
export function sunWay(light) {
  if (light.direction) return unit(light.direction);
  if (!light.sun) return [0, 0, -1];
  const az = light.sun.azimuth_deg * Math.PI / 180, el = light.sun.elevation_deg * Math.PI / 180;
  return [-Math.sin(az) * Math.cos(el), -Math.cos(az) * Math.cos(el), -Math.sin(el)];
}
// Where a sun's light first meets a wall or the floor.
export function sunEnd(scene, light) {
  const window = openingOf(scene, windowsOf(light)[0]);
  if (!window) return null;
  const from = middle(openingBox(scene, window)), way = sunWay(light);
  const nudged = from.map((v, i) => v + way[i] * 0.01);
  const box = roomAt(scene, nudged) ?? roomAt(scene, from);
  const t = box ? toWall(box, nudged, way) : 2;
  return { from, end: nudged.map((v, i) => v + way[i] * t) };
}

// Where a thing stands, by its kind; null where it has no place of its own.
export function placeOf(scene, { kind, index, shot = 0 }) {
  const item = listOf(scene, kind, shot)[index];
  if (!item) return null;
  if (kind === 'rooms') return middle(boxOf(scene, item));
  if (kind === 'openings') return middle(openingBox(scene, item));
  if (kind === 'points' && item.on) {
    const figure = (scene.figures ?? []).find((f, i) => nameOf(f, 'figures', i) === item.on);
    if (!figure) return null;
    const at = place(scene, figure.at), height = metres(figure.height ?? (unitOf(scene) === 'ft' ? '1.7 m' : 1.7), unitOf(scene));
    return [at[0], at[1], at[2] + (item.height === undefined ? 0.92 * height : metres(item.height, unitOf(scene)))];
  }
  if (kind === 'hazer' || kind === 'detectors') return null;
  if (item.kind === 'tube') return middle({ lo: place(scene, item.from), hi: place(scene, item.to) });
  if (item.through !== undefined) {
    const window = openingOf(scene, windowsOf(item)[0]);
    return window ? middle(openingBox(scene, window)) : null;
  }
  return item.at ? place(scene, item.at) : null;
}

// A hazer stands in a room, nobody says where: drawn near its south-west corner, side by side.
export function hazerPlace(scene, index) {
  const hazer = hazersOf(scene)[index], all = boxes(scene);
  const box = all.find((b) => b.name === hazer.room) ?? all[0];
  return box ? [box.lo[0] + 0.4 + 0.5 * index, box.lo[1] + 0.35, box.lo[2]] : null;
}

const shift = (p, axes, to) => { const q = [...p]; axes.forEach((a, i) => { q[a] = to[i]; }); return q; };

// Slides an opening in its wall so that its middle comes to `to`, as far as the wall goes.
function slideOpening(scene, opening, axes, to) {
  const { lo, hi, axis } = openingBox(scene, opening), wall = wallOf(scene, opening, axis);
  const mid = middle({ lo, hi });
  axes.forEach((a, i) => {
    if (a === axis) return;
    const half = (hi[a] - lo[a]) / 2;
    const most = Math.max(0, Math.min(to[i], wall.hi[a] - half) - (wall.lo[a] + half));
    mid[a] = wall.lo[a] + half + most;
  });
  const half = hi.map((v, i) => (v - lo[i]) / 2);
  setOpening(scene, opening, mid.map((v, i) => v - half[i]), mid.map((v, i) => v + half[i]));
}

// Moves one side of a room; rooms that share it and openings in it go along.  side: 0 low, 1 high.
export function moveWall(scene, index, axis, side, value) {
  const room = scene.rooms[index], box = boxOf(scene, room);
  const limit = side ? box.lo[axis] + LEAST_ROOM : box.hi[axis] - LEAST_ROOM;
  let to = side ? Math.max(value, limit) : Math.min(value, limit);
  const from = side ? box.hi[axis] : box.lo[axis];
  const overlaps = (b) => [0, 1, 2].every((i) => i === axis || (b.lo[i] < box.hi[i] - SAME && b.hi[i] > box.lo[i] + SAME));
  const beside = [];
  scene.rooms.forEach((other, i) => {
    const b = boxOf(scene, other), facing = side ? b.lo[axis] : b.hi[axis];
    if (i === index || !overlaps(b)) return;
    if (Math.abs(facing - from) < SAME) {
      beside.push(other);
      to = side ? Math.min(to, b.hi[axis] - LEAST_ROOM) : Math.max(to, b.lo[axis] + LEAST_ROOM);
    } else if (side ? facing > from : facing < from) to = side ? Math.min(to, facing) : Math.max(to, facing);
  });
  const set = (r, lo, hi) => { r.corner = toFile(scene, lo); r.size = toFile(scene, hi.map((v, i) => v - lo[i])); };
  for (const r of [room, ...beside]) {
    const b = boxOf(scene, r), mine = r === room ? side : 1 - side;
    (mine ? b.hi : b.lo)[axis] = to;
    set(r, b.lo, b.hi);
  }
  const names = [room, ...beside].map((r) => nameOf(r, 'rooms', scene.rooms.indexOf(r)));
  for (const o of scene.openings ?? []) {
    const b = openingBox(scene, o);
    if (b.axis === axis && Math.abs(b.lo[axis] - from) < SAME && o.rooms.some((n) => names.includes(n))) {
      b.lo[axis] = b.hi[axis] = to;
      setOpening(scene, o, b.lo, b.hi);
    }
  }
}

const overlap = (a, b) => [0, 1, 2].every((i) => a.lo[i] < b.hi[i] - SAME && a.hi[i] > b.lo[i] + SAME);
const moved = (box, by) => ({ lo: box.lo.map((v, i) => v + by[i]), hi: box.hi.map((v, i) => v + by[i]) });

// An opening put into a wall as near as it goes; null where it is too large for it.
function fitted(o, wall) {
  const by = [0, 1, 2].map((i) => (i === o.axis ? 0 : Math.max(wall.lo[i] - o.lo[i], Math.min(0, wall.hi[i] - o.hi[i]))));
  const there = { ...moved(o, by), axis: o.axis };
  return [0, 1, 2].every((i) => i === o.axis || (there.lo[i] > wall.lo[i] - SAME && there.hi[i] < wall.hi[i] + SAME)) ? there : null;
}

// What a room's way by so much makes of it, of the rooms that a door ties to it and of all their openings:
// a door goes along, as far as the wall that is shared; the neighbour's wall with the door in it follows,
// so that it grows or shrinks; its other openings stay where they are, or as near as its walls allow.
// { boxes, openings }, one a room and an opening; null where it cannot be.
function carried(scene, index, by) {
  const was = boxes(scene), now = was.map((b) => ({ ...b, lo: [...b.lo], hi: [...b.hi] })), { name } = was[index];
  const all = (scene.openings ?? []).map((o) => ({ rooms: o.rooms, ...openingBox(scene, o) }));
  Object.assign(now[index], moved(was[index], by));
  const ties = all.filter((o) => o.rooms.includes(name) && !o.rooms.includes('outside'));
  for (const { axis, lo, rooms } of ties) {
    const other = now.findIndex((b) => rooms.includes(b.name) && b.name !== name), side = Math.abs(was[other].hi[axis] - lo[axis]) < SAME ? 'hi' : 'lo';
    now[other][side][axis] = was[other][side][axis] + by[axis];
    if (now[other].hi[axis] - now[other].lo[axis] < LEAST_ROOM) return null;
  }
  if (now.some((a, i) => now.some((b, j) => j < i && overlap(a, b) && !overlap(was[i], was[j])))) return null;
  const places = all.map((o) => {
    const of = now.filter((b) => o.rooms.includes(b.name)), mine = o.rooms.includes(name);
    const there = { ...(mine ? moved(o, by) : { lo: [...o.lo], hi: [...o.hi] }), axis: o.axis };
    if (!mine) { // in the wall of a neighbour that followed
      const n = now.findIndex((b) => o.rooms.includes(b.name)), side = ['lo', 'hi'].find((q) => Math.abs(was[n][q][o.axis] - o.lo[o.axis]) < SAME);
      if (side) there.lo[o.axis] = there.hi[o.axis] = now[n][side][o.axis];
    }
    const wall = { lo: [0, 1, 2].map((i) => Math.max(...of.map((b) => b.lo[i]))), hi: [0, 1, 2].map((i) => Math.min(...of.map((b) => b.hi[i]))) };
    const touches = of.every((b) => ['lo', 'hi'].some((q) => Math.abs(b[q][o.axis] - there.lo[o.axis]) < SAME));
    return touches ? fitted(there, wall) : null;
  });
  const left = (kind) => (scene[kind] ?? []).some((item) => { const p = place(scene, item.at), home = was.findIndex((b) => inside(b, p)); return home >= 0 && home !== index && !inside(now[home], p); });
  return places.some((p) => p === null) || left('cameras') || left('figures') ? null : { boxes: now, openings: places };
}

// Moves a whole room with what stands in it, its openings and the walls of its neighbours. Where it cannot
// go so far, along one axis alone.
function moveRoom(scene, index, axes, to) {
  const room = scene.rooms[index], box = boxOf(scene, room), mid = middle(box), whole = [0, 0, 0];
  axes.forEach((a, i) => { whole[a] = to[i] - mid[a]; });
  const tries = [whole, ...axes.map((a) => whole.map((v, i) => (i === a ? v : 0)))].filter((by) => by.some((v) => Math.abs(v) > 1e-9));
  const by = tries.find((w) => carried(scene, index, w)), there = by && carried(scene, index, by);
  if (!there) return;
  const go = (value) => toFile(scene, place(scene, value).map((v, i) => v + by[i]));
  const things = [...(scene.lights ?? []), ...(scene.cameras ?? []), ...(scene.figures ?? []), ...(scene.blockers ?? []),
    ...(scene.shots ?? []).flatMap((s) => [...(s.points ?? []), ...(s.wants ?? [])])];
  for (const t of things) {
    const home = t.at ?? t.from ?? t.near;
    if (!Array.isArray(home) || !inside(box, place(scene, home))) continue;
    for (const key of ['at', 'aim', 'from', 'to', 'near']) if (Array.isArray(t[key])) t[key] = go(t[key]);
  }
  scene.rooms.forEach((r, i) => {
    const b = there.boxes[i], old = boxOf(scene, r);
    if (b.lo.some((v, k) => Math.abs(v - old.lo[k]) > 1e-9)) r.corner = toFile(scene, b.lo);
    if (b.hi.some((v, k) => Math.abs(v - b.lo[k] - old.hi[k] + old.lo[k]) > 1e-9)) r.size = toFile(scene, b.hi.map((v, k) => v - b.lo[k]));
  });
  (scene.openings ?? []).forEach((o, i) => {
    const p = there.openings[i], old = openingBox(scene, o);
    if ([0, 1, 2].some((k) => Math.abs(p.lo[k] - old.lo[k]) > 1e-9 || Math.abs(p.hi[k] - old.hi[k]) > 1e-9)) setOpening(scene, o, p.lo, p.hi);
  });
}

const MUST_BE_INSIDE = new Set(['cameras', 'points', 'figures']);

// Moves a part of a thing to a place of a drawing (already snapped).
//   part  'at', 'aim', 'from', 'to', 'sun', or a wall as { axis, side }
//   axes  the two axes of the drawing;  to  [m] along them
export function moveTo(scene, ref, part, axes, to) {
  const item = listOf(scene, ref.kind, ref.shot)[ref.index];
  if (typeof part === 'object') return moveWall(scene, ref.index, part.axis, part.side, to[axes.indexOf(part.axis)]);
  if (ref.kind === 'rooms') return moveRoom(scene, ref.index, axes, to);
  if (ref.kind === 'openings') return slideOpening(scene, item, axes, to);
  if (part === 'sun') return turnSun(scene, item, axes, to);
  if (item.through !== undefined) {
    const window = openingOf(scene, windowsOf(item)[0]);
    return window && slideOpening(scene, window, axes, to);
  }
  if (item.kind === 'tube' && part === 'at') {
    const by = shift([0, 0, 0], axes, to.map((v, i) => v - placeOf(scene, ref)[axes[i]]));
    for (const end of ['from', 'to']) item[end] = toFile(scene, place(scene, item[end]).map((v, i) => v + by[i]));
    return undefined;
  }
  let p = shift(item[part] ? place(scene, item[part]) : placeOf(scene, ref), axes, to);
  if (ref.kind === 'figures') p[2] = place(scene, item.at)[2];
  if (MUST_BE_INSIDE.has(ref.kind) && part === 'at') p = keepInside(scene, p);
  if (item.on) { delete item.on; delete item.height; }
  item[part] = toFile(scene, p);
  return undefined;
}

function turnSun(scene, light, axes, to) {
  const way = sunEnd(scene, light);
  if (!way) return;
  const end = shift(way.end, axes, to);
  const d = unit(end.map((v, i) => v - way.from[i]));
  if (!d.every(Number.isFinite) || Math.hypot(...end.map((v, i) => v - way.from[i])) < 0.05) return;
  delete light.sun;
  light.direction = d.map((v) => Number(v.toFixed(4)));
}

// The parts of a thing that can be taken hold of beside itself, with where they are.
export function partsOf(scene, ref) {
  const item = listOf(scene, ref.kind, ref.shot)[ref.index];
  if (!item) return [];
  if (ref.kind === 'rooms') {
    const b = boxOf(scene, item), mid = middle(b), names = [['west', 'east'], ['south', 'north'], ['floor', 'ceiling']];
    return [0, 1, 2].flatMap((axis) => [0, 1].map((side) => {
      const at = [...mid];
      at[axis] = side ? b.hi[axis] : b.lo[axis];
      return { part: { axis, side }, at, name: axis < 2 ? `${names[axis][side]} wall` : names[axis][side] };
    }));
  }
  if (item.kind === 'tube') return ['from', 'to'].map((part) => ({ part, at: place(scene, item[part]), name: part === 'from' ? 'one end' : 'other end' }));
  if (item.kind === 'sun') { const way = sunEnd(scene, item); return way ? [{ part: 'sun', at: way.end, name: 'where the sun falls' }] : []; }
  return Array.isArray(item.aim) ? [{ part: 'aim', at: place(scene, item.aim), name: 'aim' }] : [];
}

// The wedge of a light or a camera in a drawing: its apex and where its sides meet the walls.
export function wedge(scene, at, aim, angle, axes) {
  const box3 = roomAt(scene, at) ?? bounds(boxes(scene));
  const box = { lo: axes.map((a) => box3.lo[a]), hi: axes.map((a) => box3.hi[a]) };
  const from = axes.map((a) => at[a]), d = axes.map((a, i) => aim[a] - from[i]);
  if (Math.hypot(...d) < 1e-6) return [];
  const middleAngle = Math.atan2(d[1], d[0]);
  const ray = (turn) => {
    const way = [Math.cos(middleAngle + turn), Math.sin(middleAngle + turn)];
    const t = toWall(box, from, way);
    return from.map((v, i) => v + way[i] * t);
  };
  const sides = [-1, -0.5, 0, 0.5, 1].map((s) => ray(s * angle / 2));
  const corners = [[box.lo[0], box.lo[1]], [box.hi[0], box.lo[1]], [box.hi[0], box.hi[1]], [box.lo[0], box.hi[1]]]
    .map((c) => ({ c, turn: Math.atan2(Math.sin(Math.atan2(c[1] - from[1], c[0] - from[0]) - middleAngle), Math.cos(Math.atan2(c[1] - from[1], c[0] - from[0]) - middleAngle)) }))
    .filter(({ turn }) => Math.abs(turn) < angle / 2);
  const all = [...sides.map((p) => ({ p, turn: Math.atan2(Math.sin(Math.atan2(p[1] - from[1], p[0] - from[0]) - middleAngle), Math.cos(Math.atan2(p[1] - from[1], p[0] - from[0]) - middleAngle)) })),
    ...corners.map(({ c, turn }) => ({ p: c, turn }))].sort((a, b) => a.turn - b.turn);
  return [from, ...all.map(({ p }) => p)];
}

const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const dot = (a, b) => a.reduce((s, v, i) => s + v * b[i], 0);
// How a camera looks: ahead, right and up of its frame, and half the frame's sizes over the lens. As camera/view.c has it.
function frameOf(scene, camera) {
  const at = place(scene, camera.at), ahead = unit(place(scene, camera.aim).map((v, i) => v - at[i])), roll = (camera.roll_deg ?? 0) * Math.PI / 180;
  const level = Math.hypot(ahead[0], ahead[1]) < 1e-6 ? [1, 0, 0] : unit(cross(ahead, [0, 0, 1])), over = cross(level, ahead);
  const [w, h] = camera.sensor_mm ?? [24.9, 14.0], focal = camera.focal_mm ?? 35;
  return { at, ahead, right: level.map((v, i) => v * Math.cos(roll) + over[i] * Math.sin(roll)), up: over.map((v, i) => v * Math.cos(roll) - level[i] * Math.sin(roll)), wide: w / focal, high: h / focal };
}
// A mark in the camera's frame: x right, y down, 0 to 1; null behind it.
export function inFrame(scene, camera, p) {
  const { at, ahead, right, up, wide, high } = frameOf(scene, camera), d = p.map((v, i) => v - at[i]), depth = dot(d, ahead);
  if (depth <= 1e-9) return null;
  return { x: 0.5 + dot(d, right) / depth / wide, y: 0.5 - dot(d, up) / depth / high, depth };
}
// The place in the room that a mark of the frame looks at: the first wall of its room.
export function seenAt(scene, camera, x, y) {
  const { at, ahead, right, up, wide, high } = frameOf(scene, camera);
  const d = unit(ahead.map((v, i) => v + right[i] * (x - 0.5) * wide + up[i] * (0.5 - y) * high));
  const box = roomAt(scene, at);
  return { from: at, way: d, wall: box ? at.map((v, i) => v + d[i] * toWall(box, at, d)) : null };
}
export const angleOfView = (camera, vertical = false) => {
  const [w, h] = camera.sensor_mm ?? [24.9, 14.0];
  return 2 * Math.atan((vertical ? h : w) / 2 / (camera.focal_mm ?? 35));
};
export { setOpening };
