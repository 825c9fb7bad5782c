// SPDX-License-Identifier: GPL-3.0-or-later
// Things of a scene: found, named, renamed with all that names them, taken away, and a file's text read
// into one. No geometry here, and no numbers judged: the core does that.
import { inFile, metres } from './units.js';

export const LISTS = ['rooms', 'openings', 'lights', 'cameras', 'figures', 'blockers'];
const SINGULAR = { rooms: 'room', openings: 'opening', lights: 'light', cameras: 'camera', figures: 'figure',
  blockers: 'blocker', shots: 'shot', points: 'point', detectors: 'detector', hazer: 'hazer' };

export const unitOf = (scene) => scene.lengths ?? 'm';
export const hazersOf = (scene) => (scene.hazer ? [scene.hazer].flat() : []);
export function listOf(scene, kind, shot = 0) {
  if (kind === 'hazer') return hazersOf(scene);
  if (kind === 'points') return scene.shots?.[shot]?.points ?? [];
  if (kind === 'detectors') return scene.venue?.detectors ?? [];
  return scene[kind] ?? [];
}
export function nameOf(item, kind, i) {
  if (kind === 'hazer') return i ? `hazer ${i + 1}` : 'hazer'; // a file gives it no name
  return item?.name ?? `${SINGULAR[kind]} ${i + 1}`;
}
export const namesOf = (scene, kind, shot) => listOf(scene, kind, shot).map((item, i) => nameOf(item, kind, i));
export const find = (scene, kind, name) => namesOf(scene, kind).indexOf(name);

// The JSON pointer of a thing, as the core's faults have it.
export function pointerOf(scene, { kind, index, shot = 0 }) {
  if (kind === 'hazer') return Array.isArray(scene.hazer) ? `/hazer/${index}` : '/hazer';
  if (kind === 'points') return `/shots/${shot}/points/${index}`;
  if (kind === 'detectors') return `/venue/detectors/${index}`;
  return `/${kind}/${index}`;
}

export const place = (scene, value) => (value ?? [0, 0, 0]).map((v) => metres(v, unitOf(scene)));
export const toFile = (scene, xyz) => xyz.map((m) => inFile(m, unitOf(scene)));

// A name that no other thing of the kind has: "torch", "torch 2".
export function freeName(taken, wanted) {
  if (!taken.includes(wanted)) return wanted;
  let n = 2;
  while (taken.includes(`${wanted} ${n}`)) n++;
  return `${wanted} ${n}`;
}

// Every place that holds the name of a thing of a kind, as [object, key] or [array, index].
function* mentions(scene, kind, name) {
  const here = function* (object, ...keys) {
    for (const key of keys) {
      const value = object?.[key];
      if (value === name) yield [object, key];
      else if (Array.isArray(value)) for (let i = value.length; i-- > 0;) if (value[i] === name) yield [value, i];
    }
  };
  if (kind === 'rooms') {
    for (const o of scene.openings ?? []) yield* here(o, 'rooms');
    for (const o of hazersOf(scene)) yield* here(o, 'room');
    for (const o of [...(scene.readings ?? []), ...(scene.venue?.detectors ?? [])]) yield* here(o, 'room');
  }
  if (kind === 'openings') for (const l of scene.lights ?? []) yield* here(l, 'through');
  if (kind === 'cameras') for (const o of [...(scene.shots ?? []), ...(scene.readings ?? [])]) yield* here(o, 'camera');
  if (kind === 'lights') {
    for (const l of scene.lights ?? []) if (l.fed_by) yield* here(l.fed_by, 'light');
    for (const r of scene.readings ?? []) yield* here(r, 'lit_by');
    for (const s of scene.shots ?? []) { yield* here(s, 'lights'); for (const w of s.wants ?? []) yield* here(w, 'light'); }
  }
  if (kind === 'figures') for (const s of scene.shots ?? []) for (const p of s.points ?? []) yield* here(p, 'on');
  if (kind === 'shots') for (const s of scene.shots ?? []) { yield* here(s, 'after'); for (const w of s.wants ?? []) yield* here(w, 'shot'); }
}
// Objects whose keys are names of a kind.
const keyed = (scene, kind) => (scene.shots ?? []).flatMap((s) => ({
  lights: [s.dimmers], openings: [s.open], rooms: [s.extinction_per_m, s.mass_mg_per_m3, s.visible_range_m],
}[kind] ?? [])).filter((o) => o && typeof o === 'object');

// What a thing of one of these names is called since they changed to those; null: as before, or not there.
export function renamedTo(before, after, name) {
  const others = (list) => list.filter((_, i) => i !== at).join('\n'), at = before.indexOf(name);
  return at >= 0 && !after.includes(name) && others(before) === others(after) ? after[at] ?? null : null;
}

export function rename(scene, kind, index, name, shot = 0) {
  const item = listOf(scene, kind, shot)[index], old = nameOf(item, kind, index);
  for (const [holder, key] of mentions(scene, kind, old)) holder[key] = name;
  for (const o of keyed(scene, kind)) if (Object.hasOwn(o, old)) { o[name] = o[old]; delete o[old]; }
  if (kind === 'points') {
    for (const s of scene.shots) for (const w of s.wants ?? []) {
      const mine = s === scene.shots[shot];
      if (mine && w.at === old) w.at = name;
      if (mine && w.between) w.between = w.between.map((n) => (n === old ? name : n));
    }
  }
  item.name = name;
}

const wantHangsOn = (w, kind, name) => (kind === 'lights' && w.light === name) || (kind === 'shots' && w.shot === name)
  || (kind === 'points' && (w.at === name || w.between?.includes(name)));

// Takes a thing away with all that cannot be without it (a sun with its window, a want with its lamp).
export function remove(scene, kind, index, shot = 0) {
  const list = listOf(scene, kind, shot), name = nameOf(list[index], kind, index);
  if (kind === 'hazer') {
    const left = list.filter((_, i) => i !== index);
    if (left.length === 0) delete scene.hazer; else scene.hazer = left.length === 1 ? left[0] : left;
    return;
  }
  list.splice(index, 1);
  for (const s of scene.shots ?? []) {
    if (s.wants && (kind !== 'points' || s === scene.shots[shot])) s.wants = s.wants.filter((w) => !wantHangsOn(w, kind, name));
  }
  for (const o of keyed(scene, kind)) delete o[name];
  const gone = { lights: [], shots: [], openings: [] };
  for (const [holder, key] of mentions(scene, kind, name)) {
    if (!Array.isArray(holder)) delete holder[key];
    else if (kind === 'rooms') holder[key] = undefined; // the opening goes below
    else holder.splice(key, 1);
  }
  for (let i = (scene.lights ?? []).length; i-- > 0;) {
    const l = scene.lights[i];
    if (l.fed_by && l.fed_by.light === undefined) gone.lights.push(i);
    if ((l.kind === 'sun' || l.kind === 'sky') && (l.through === undefined || l.through.length === 0)) gone.lights.push(i);
  }
  for (let i = (scene.openings ?? []).length; i-- > 0;) {
    if (kind === 'rooms' && scene.openings[i].rooms?.some((r) => r === undefined)) gone.openings.push(i);
  }
  if (kind === 'cameras') for (let i = (scene.shots ?? []).length; i-- > 0;) if (scene.shots[i].camera === undefined) gone.shots.push(i);
  if (kind === 'figures') for (const s of scene.shots ?? []) for (let i = (s.points ?? []).length; i-- > 0;) {
    if (!s.points[i].at && !s.points[i].on) remove(scene, 'points', i, scene.shots.indexOf(s));
  }
  if (kind === 'rooms') {
    if (scene.hazer) { const left = hazersOf(scene).filter((h) => h.room !== undefined || scene.rooms.length === 1); if (left.length === 0) delete scene.hazer; }
    if (scene.venue?.detectors) scene.venue.detectors = scene.venue.detectors.filter((d) => d.room !== undefined);
  }
  for (const k of ['openings', 'lights', 'shots']) for (const i of gone[k]) remove(scene, k, i);
  forgetPointers(scene, kind);
}

// Pointers of "uncertain" count along lists: those into a list that changed its order no longer hold.
export function forgetPointers(scene, kind) {
  for (const p of Object.keys(scene.uncertain ?? {})) if (p.startsWith(`/${kind}/`)) delete scene.uncertain[p];
}
// What a change leaves behind: uncertain numbers that are no longer there, empty holders. One hazer that
// became the first of several keeps its own.
export function tidy(scene) {
  const leads = (p) => typeof p.split('/').slice(1).reduce((o, k) => o?.[k.replaceAll('~1', '/').replaceAll('~0', '~')], scene) === 'number';
  for (const [p, share] of Object.entries(scene.uncertain ?? {})) {
    if (leads(p)) continue;
    delete scene.uncertain[p];
    const first = p.replace('/hazer/', '/hazer/0/'), only = p.replace('/hazer/0/', '/hazer/');
    if (p.startsWith('/hazer/')) for (const moved of [first, only]) if (leads(moved)) scene.uncertain[moved] = share;
  }
  if (scene.uncertain && Object.keys(scene.uncertain).length === 0) delete scene.uncertain;
  (scene.shots ?? []).forEach((s, i) => { // a shot's sun stands over a sun that burns in it
    const lit = new Set(litIn(scene, i));
    if (s.sun && !(scene.lights ?? []).some((l, n) => l.kind === 'sun' && lit.has(nameOf(l, 'lights', n)))) delete s.sun;
  });
  return scene;
}

// The text of a scene file.
export const fileText = (scene) => JSON.stringify(scene, null, 2) + '\n';
// A file's text as a scene, or why it is none. What it says is judged by the core.
export function parseScene(text) {
  let scene;
  try { scene = JSON.parse(text); } catch (e) { return { why: `it is no JSON: ${e.message}` }; }
  const isObject = scene && typeof scene === 'object' && !Array.isArray(scene);
  if (!isObject || scene.veilstop === undefined) return { why: 'it is no scene: "veilstop": 1 must stand in it' };
  return { scene };
}

// A shot's density in its camera's room, set: one figure, or that room's of a map.
export function setDensity(scene, shot, extinction, room) {
  const s = scene.shots[shot];
  const map = s.extinction_per_m && typeof s.extinction_per_m === 'object' ? s.extinction_per_m : null;
  delete s.mass_mg_per_m3;
  delete s.visible_range_m;
  const k = Number(extinction.toPrecision(6));
  if (map && room) map[room] = k; else s.extinction_per_m = k;
}
// The lights that burn in a shot, by name.
export const litIn = (scene, shot) => scene.shots?.[shot]?.lights ?? (scene.lights ?? [])
  .map((l, i) => [l, nameOf(l, 'lights', i)]).filter(([l]) => l.on !== false).map(([, name]) => name);
