// SPDX-License-Identifier: GPL-3.0-or-later
// The haze control's scale, the words of wants, and whether a line of sight meets a person. Pure.
import { nameOf, place, unitOf } from '../state/scene.js';
import { digits, lengthWords, metres } from '../state/units.js';

// No haze at the left end; then even steps of ratio from a visibility of 2 km to heavy haze, or to the
// thickest that is asked for.
const THIN = 0.002, HEAVY = 0.12;      // [1/m]
const NONE = 0.02;                     // share of the way that is no haze
export function scaleOf(thickest = 0) {
  const heavy = Math.max(HEAVY, thickest * 1.25), ratio = Math.log(heavy / THIN);
  return {
    density: (p) => (p < NONE ? 0 : Number((THIN * Math.exp(ratio * (p - NONE) / (1 - NONE))).toPrecision(6))),
    place: (k) => (k <= 0 ? 0 : Math.min(1, Math.max(NONE, NONE + (1 - NONE) * Math.log(k / THIN) / ratio))),
  };
}

// What a choice marks along the control's way, 0 to 1: the wanted band, and the best, whose word stands
// before it where there is no room behind. Null: no such mark. band: of the core's choice, or nothing.
const LAST_ROOM = 0.7; // share of the way
export function choiceMarks(scale, band) {
  const whole = Number.isFinite(band?.lowest) && Number.isFinite(band?.highest), best = band?.recommended > 0 ? scale.place(band.recommended) : null;
  return { band: whole ? [scale.place(band.lowest), scale.place(band.highest)] : null, best, back: best > LAST_ROOM };
}
// A hand that lets go beside the best is on it.
const BESIDE = 0.008; // share of the way
export const stick = (best, p) => (best !== null && Math.abs(best - p) < BESIDE ? best : p);

const TITLES = { contrast: 'Contrast lost', black: 'Black lifts', beam: 'Beam over', separation: 'Separates by', sight: 'Visibility', like: 'Veil off by', glow: 'Glow' };
const UNITS = { contrast: 'stop', black: '%', beam: 'stop', separation: 'stop', like: 'stop', glow: '°' };

// Numbers to show large: what the shot wants, with its limit; where it wants nothing, what haze does most.
export function wantForms(told, units) {
  if (told.wants.length) {
    return told.wants.map((w) => {
      const limit = w.at_least ?? w.at_most, sight = w.want === 'sight';
      const text = (v) => (v === null || v === undefined ? '–' : sight ? lengthWords(v, units) : Math.abs(v) < 10 ? v.toFixed(2) : digits(v));
      const side = w.at_least !== undefined ? (w.met ? 'at least' : 'under') : (w.met ? 'at most' : 'over');
      return { title: TITLES[w.want], value: text(w.value), unit: UNITS[w.want] ?? '', limit: `${side} ${text(limit)}`, met: w.met };
    });
  }
  const lift = Math.max(0, ...told.points.map((p) => p.black_lift_percent));
  const list = told.points.length ? [{ title: TITLES.black, value: digits(lift), unit: '%', limit: 'at most' }] : [];
  if (told.contrasts.length) list.push({ title: TITLES.contrast, value: Math.max(...told.contrasts.map((c) => c.lost_stops)).toFixed(2), unit: 'stop', limit: 'at most' });
  if (told.beams.length) list.push({ title: TITLES.beam, value: Math.max(...told.beams.map((b) => b.over_background_stops)).toFixed(2), unit: 'stop', limit: told.beams[0].light });
  return list.map((w) => ({ ...w, limit: w.limit === 'at most' ? 'nothing wanted' : w.limit }));
}

// The first person that a line of sight meets, as a standing cylinder a shoulder wide.
export function hitFigure(scene, from, way) {
  let best = null;
  (scene.figures ?? []).forEach((f, i) => {
    const at = place(scene, f.at), tall = f.height === undefined ? 1.7 : metres(f.height, unitOf(scene)), r = 0.13 * tall;
    const flat = Math.hypot(way[0], way[1]);
    if (flat < 1e-6) return;
    const along = ((at[0] - from[0]) * way[0] + (at[1] - from[1]) * way[1]) / flat / flat;
    const off = Math.hypot(from[0] + way[0] * along - at[0], from[1] + way[1] * along - at[1]), z = from[2] + way[2] * along - at[2];
    if (along > 0 && off < r && z > 0 && z < tall && (!best || along < best.along)) best = { name: nameOf(f, 'figures', i), along, height: z };
  });
  return best;
}
