// SPDX-License-Identifier: GPL-3.0-or-later
// What a drawing of the place shows, as shapes in metres along its two axes: from above (x, y), from the
// side along (x, z) or across (y, z). Pure; place/Plan.jsx puts them on the screen.
import { hazersOf, litIn, nameOf, place, unitOf } from '../state/scene.js';
import { metres } from '../state/units.js';
import { AXES, angleOfView, boxes, hazerPlace, openingBox, placeOf, sunEnd, wedge, windowsOf } from './geometry.js';

const flat = (axes) => (p) => axes.map((a) => p[a]);
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (v) => { const n = Math.hypot(...v) || 1; return v.map((x) => x / n); };

// The corners of a rectangle round `at` that faces `aim`; its width is level, along x where it looks
// straight up or down.
export function rectangle(at, aim, [w, h]) {
  const f = unit(aim.map((v, i) => v - at[i]));
  const steep = Math.hypot(f[0], f[1]) < Math.sin(Math.PI / 180);
  const right = steep ? [1, 0, 0] : unit(cross(f, [0, 0, 1])), up = cross(right, f);
  return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([a, b]) => at.map((v, i) => v + right[i] * a * w / 2 + up[i] * b * h / 2));
}

// The outline of points: Andrew's monotone chain.
export function hull(points) {
  const p = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const turn = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (list) => {
    const out = [];
    for (const q of list) {
      while (out.length >= 2 && turn(out.at(-2), out.at(-1), q) <= 0) out.pop();
      out.push(q);
    }
    return out.slice(0, -1);
  };
  return p.length < 3 ? p : [...half(p), ...half(p.reverse())];
}

const corners = ({ lo, hi }) => [0, 1, 2, 3, 4, 5, 6, 7].map((n) => [n & 1 ? hi[0] : lo[0], n & 2 ? hi[1] : lo[1], n & 4 ? hi[2] : lo[2]]);

function sunShape(scene, light, see) {
  return windowsOf(light).flatMap((name) => {
    const window = (scene.openings ?? []).find((o, i) => nameOf(o, 'openings', i) === name);
    const way = window && sunEnd(scene, { ...light, through: name });
    if (!way) return [];
    const by = way.end.map((v, i) => v - way.from[i]), from = corners(openingBox(scene, window));
    return [hull([...from, ...from.map((c) => c.map((v, i) => v + by[i]))].map(see))];
  });
}

function lightShapes(scene, light, ref, see, axes, lit) {
  const out = [], cls = lit ? 'beam' : 'beam off';
  const at = placeOf(scene, ref);
  if (light.kind === 'sun') sunShape(scene, light, see).forEach((poly) => out.push({ ref, poly, cls }));
  if (light.kind === 'spot' && light.aim) out.push({ ref, poly: wedge(scene, at, place(scene, light.aim), (light.beam_deg ?? 20) * Math.PI / 180, axes), cls });
  if (light.kind === 'panel' && light.aim) {
    out.push({ ref, poly: wedge(scene, at, place(scene, light.aim), Math.PI / 3, axes), cls: cls + ' soft' });
    const size = light.size.map((v) => metres(v, unitOf(scene)));
    out.push({ ref, poly: hull(rectangle(at, place(scene, light.aim), size).map(see)), cls: lit ? 'lampline' : 'lampline off' });
  }
  if (light.kind === 'tube') out.push({ ref, poly: ['from', 'to'].map((k) => see(place(scene, light[k]))), cls: lit ? 'lampline' : 'lampline off' });
  return out.filter((s) => s.poly.length > 1);
}

function openingShape(scene, opening, ref, axes, see) {
  const b = openingBox(scene, opening), inView = axes.indexOf(b.axis);
  if (inView < 0) { // faces the one who looks: an outline
    const [u, v] = axes;
    return { ref, poly: [[b.lo[u], b.lo[v]], [b.hi[u], b.lo[v]], [b.hi[u], b.hi[v]], [b.lo[u], b.hi[v]]], cls: 'faced' };
  }
  return { ref, line: [see(b.lo), see(b.hi)].map((p, i, [a, z]) => { // along the wall only
    const q = [...p];
    q[inView] = (a[inView] + z[inView]) / 2;
    return q;
  }), cls: opening.rooms.includes('outside') ? 'window' : 'door' };
}

function bodyShape(scene, figure, ref, axes) {
  const at = place(scene, figure.at), tall = figure.height === undefined ? 1.7 : metres(figure.height, unitOf(scene));
  return axes === AXES.above ? { ref, dot: [at[0], at[1]], size: 0.26 * tall / 2, cls: 'body' }
    : { ref, body: axes.map((a) => at[a]), tall, cls: 'body' };
}

// The shapes of a view, those behind first.  shot: whose lights burn, whose points are shown.
export function shapesOf(scene, shot, view) {
  const axes = AXES[view], see = flat(axes), out = [], lit = new Set(litIn(scene, shot));
  boxes(scene).forEach((b, index) => out.push({ ref: { kind: 'rooms', index }, box: [see(b.lo), see(b.hi)], cls: 'room' }));
  (scene.openings ?? []).forEach((o, index) => out.push(openingShape(scene, o, { kind: 'openings', index }, axes, see)));
  (scene.lights ?? []).forEach((l, index) => out.push(...lightShapes(scene, l, { kind: 'lights', index }, see, axes, lit.has(nameOf(l, 'lights', index)))));
  const mine = scene.shots?.[shot]?.camera;
  (scene.cameras ?? []).forEach((c, index) => {
    if (nameOf(c, 'cameras', index) !== mine) return;
    const poly = wedge(scene, place(scene, c.at), place(scene, c.aim), angleOfView(c, view !== 'above'), axes);
    if (poly.length > 2) out.push({ ref: { kind: 'cameras', index }, open: [poly.at(-1), poly[0], poly[1]], cls: 'fov' });
  });
  (scene.blockers ?? []).forEach((b, index) => out.push({ ref: { kind: 'blockers', index }, cls: b.transmittance > 0 ? 'net' : 'solid',
    poly: hull(rectangle(place(scene, b.at), place(scene, b.aim), b.size.map((v) => metres(v, unitOf(scene)))).map(see)) }));
  (scene.figures ?? []).forEach((f, index) => out.push(bodyShape(scene, f, { kind: 'figures', index }, axes)));
  return out;
}

// What can be taken hold of, with its mark and how much its name matters (0 most).
export function handlesOf(scene, shot, view) {
  const see = flat(AXES[view]), lit = new Set(litIn(scene, shot)), out = [];
  const add = (kind, index, mark, rank, item, at = placeOf(scene, { kind, index, shot })) => {
    if (at) out.push({ ref: { kind, index, shot }, part: 'at', mark, rank, at, xy: see(at), name: kind === 'cameras' && nameOf(item, kind, index).length < 3 ? `camera ${nameOf(item, kind, index)}` : nameOf(item, kind, index) });
  };
  (scene.cameras ?? []).forEach((c, i) => add('cameras', i, 'camera', 1, c));
  (scene.figures ?? []).forEach((f, i) => add('figures', i, 'figure', 2, f));
  (scene.lights ?? []).forEach((l, i) => {
    if (l.kind === 'sky') return; // it is its window
    add('lights', i, { panel: 'none', tube: 'none', sun: 'sun' }[l.kind] ?? 'lamp', lit.has(nameOf(l, 'lights', i)) ? 3 : 6, l);
    out.at(-1).lit = lit.has(nameOf(l, 'lights', i));
  });
  (scene.openings ?? []).forEach((o, i) => add('openings', i, 'none', 5, o));
  (scene.blockers ?? []).forEach((b, i) => add('blockers', i, 'none', 4, b));
  (scene.shots?.[shot]?.points ?? []).forEach((p, i) => add('points', i, 'point', 4, p));
  hazersOf(scene).forEach((h, i) => add('hazer', i, 'hazer', 3, h, hazerPlace(scene, i)));
  return out;
}
