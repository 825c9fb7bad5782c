// SPDX-License-Identifier: GPL-3.0-or-later
// The day's plan as rows down a page: shots, and between them what is done. Pure: the core's answer to
// `dwell` and `cautions` in, rows, lines and crossings out.

import { forgetPointers } from '../state/scene.js';
import { clock } from '../state/units.js';

// Rows { kind: 'gap' | 'shot', from, to, ... } that follow each other without a hole, in minutes.
export function rowsOf(dwell) {
  const rows = [];
  let now = 0;
  dwell.shots.forEach((s, index) => {
    if (s.start_min > now + 1e-6) rows.push({ kind: 'gap', from: now, to: s.start_min, events: eventsIn(dwell, now, s.start_min, true) });
    rows.push({ kind: 'shot', from: s.start_min, to: s.end_min, index, shot: s });
    now = s.end_min;
  });
  const clear = dwell.clear?.minutes;
  if (Number.isFinite(clear) && dwell.shots.length) rows.push({ kind: 'gap', from: now, to: now + Math.max(clear, 1), events: [], clear: dwell.clear });
  return rows;
}
const BETWEEN = new Set(['warm_up', 'run', 'wait', 'purge']);
const eventsIn = (dwell, from, to) => dwell.events.filter((e) => e.min >= from - 1e-6 && e.min < to - 1e-6 && BETWEEN.has(e.do));

// When the hazer is on, as [from, to] in minutes.
export const burstsOf = (dwell) => dwell.events.filter((e) => e.do === 'run' || e.do === 'burst').map((e) => [e.min, e.min + e.seconds / 60]);

// A detector's alarm: when it is reached, by the core (null: it is not), and as a density of its room
// at 549 nm, by the core's own ratio of the two at the peak.
export function alarmsOf(cautions) {
  return (cautions?.detectors ?? []).map((d) => {
    const peak = cautions.rooms.find((r) => r.name === d.room)?.peak_extinction_per_m;
    return { name: d.name, room: d.room, reached: d.reached, at: d.reached_min, per_m: peak > 0 && d.peak_db_per_m > 0 ? d.alarm_db_per_m * peak / d.peak_db_per_m : Infinity };
  });
}
// When a room's curve first crosses a density: between the samples of the plan, by straight lines.
export function crossing(curve, room, per_m) {
  for (let i = 0; i < curve.length; i++) {
    const here = curve[i].extinction_per_m[room];
    if (here < per_m) continue;
    if (i === 0) return curve[0].min;
    const before = curve[i - 1].extinction_per_m[room], share = (per_m - before) / (here - before);
    return curve[i - 1].min + share * (curve[i].min - curve[i - 1].min);
  }
  return null;
}
// Minutes an alarm is told to, rounded down, as the core's answers are: heads differ by more than that.
export const aboutMin = (min) => Math.floor(min / (min < 10 ? 1 : 5)) * (min < 10 ? 1 : 5);
export const fromAbout = (min, start) => `from about ${start ? '' : 'min '}${clock(aboutMin(min), start)}`;
// A room's density at a minute.
export function densityAt(curve, room, min) {
  const i = curve.findIndex((c) => c.min >= min);
  if (i < 0) return curve.at(-1)?.extinction_per_m[room] ?? 0;
  if (i === 0) return curve[0].extinction_per_m[room];
  const a = curve[i - 1], b = curve[i], share = (min - a.min) / (b.min - a.min || 1);
  return a.extinction_per_m[room] + share * (b.extinction_per_m[room] - a.extinction_per_m[room]);
}

// What is done at a minute of the running day, until when, and what comes then.
export function nowOf(dwell, min) {
  const steps = stepsOf(dwell), at = steps.findLastIndex((s) => s.min <= min + 1e-9);
  const shot = dwell.shots.find((s) => min >= s.start_min && min < s.end_min);
  return { now: steps[at] ?? null, next: steps[at + 1] ?? null, later: steps.slice(at + 2, at + 5), shot };
}
// Each moment at which the one at the hazer does something: on, off, roll, cut, doors.
export function stepsOf(dwell) {
  const out = [], add = (min, does, more) => out.push({ min, does, ...more });
  for (const e of dwell.events) {
    const to = e.min + (e.seconds ?? 0) / 60;
    if (e.do === 'warm_up') add(e.min, 'warm', { seconds: e.seconds });
    if (e.do === 'run' || e.do === 'burst') { add(e.min, 'on', { seconds: e.seconds, shot: e.shot }); add(to, 'off', { shot: e.shot, mixing: e.do === 'run' }); }
    if (e.do === 'purge') add(e.min, e.shot ? 'doors' : 'over', { seconds: e.seconds, shot: e.shot });
    if (e.do === 'start') add(e.min, 'roll', { shot: e.shot, seconds: e.seconds });
    if (e.do === 'end') add(e.min, 'cut', { shot: e.shot });
    if (e.do === 'clear') add(e.min, 'clear', {});
  }
  out.sort((a, b) => a.min - b.min);
  return out.filter((s, i) => !(s.does === 'cut' && out[i + 1] && out[i + 1].min - s.min < 1e-6)); // what follows says it
}

// The scene's shots in another order.
export function reorder(scene, from, to) {
  forgetPointers(scene, 'shots');
  const [s] = scene.shots.splice(from, 1);
  scene.shots.splice(to, 0, s);
}
export function orderBy(scene, names, nameOf) {
  forgetPointers(scene, 'shots');
  const place = new Map(names.map((n, i) => [n, i]));
  scene.shots = scene.shots.map((s, i) => [place.get(nameOf(s, 'shots', i)) ?? i, s]).sort((a, b) => a[0] - b[0]).map(([, s]) => s);
}
