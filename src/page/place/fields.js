// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers beside the drawing: for each thing its fields, with unit and meaning, read from and written
// to the scene. What is allowed is not said here: the core judges, and its words stand at the field.
import { listOf, namesOf, place, unitOf } from '../state/scene.js';
import { inFile, metres } from '../state/units.js';
import { CURVES } from '../state/words.js';
import { openingBox, setOpening } from './geometry.js';

const at = (item, path) => path.reduce((o, k) => o?.[k], item);
const put = (item, path, value) => {
  const last = path.at(-1), holder = path.slice(0, -1).reduce((o, k) => (o[k] ??= {}), item);
  if (value === undefined) delete holder[last]; else holder[last] = value;
};

// kind: length, number, percent, choice, flag.  path: in the thing, also where the core points.
const field = (kind, label, path, more = {}) => ({ kind, label, path: [path].flat(),
  get: (scene, item) => {
    const raw = at(item, [path].flat());
    if (raw === undefined) return more.absent;
    if (kind === 'length') return metres(raw, unitOf(scene));
    return kind === 'percent' ? raw * 100 : raw;
  },
  set: (scene, item, value) => put(item, [path].flat(), value === undefined ? undefined
    : kind === 'length' ? inFile(value, unitOf(scene)) : kind === 'percent' ? Number((value / 100).toFixed(6)) : value),
  ...more });
const length = (label, path, more) => field('length', label, path, more);
const num = (label, path, unit, more) => field('number', label, path, { unit, ...more });
const percent = (label, path, absent, more) => field('percent', label, path, { unit: '%', absent, ...more });
const choice = (label, path, options, more) => field('choice', label, path, { options, ...more });

const xyz = (key, words) => [0, 1, 2].map((i) => length(words[i], [key, i]));
const POSITION = ['Along, from west', 'Across, from south', 'Height'];
const AIM = ['Aim: along', 'Aim: across', 'Aim: height'];

// What a light's strength is known by; each way brings its own figures.
const WAYS = { lamp: ['lumens', 'candela', 'meter'], spot: ['candela', 'lux', 'lumens'], panel: ['lux', 'nits', 'lumens'], tube: ['lumens', 'lux'] };
const WAY_WORDS = { lumens: 'its lumens', candela: 'its candelas', lux: 'a meter reading', meter: 'a meter reading', nits: 'its nits' };
const wayOf = (light) => (light.note_meter ? 'meter' : ['lumens', 'candela', 'lux', 'nits'].find((w) => light[w] !== undefined) ?? WAYS[light.kind]?.[0]);
const START = { lumens: 800, candela: 1000, lux: 60, nits: 500 };

function takeWay(scene, light, way) {
  for (const key of ['lumens', 'candela', 'lux', 'lux_at', 'nits', 'note_meter']) delete light[key];
  if (way === 'meter') { light.candela = 240; light.note_meter = '2'; return; }
  light[way] = START[way];
  if (way === 'lux') light.lux_at = inFile(3, unitOf(scene));
}
// A bare lamp's meter reading is kept as candelas: lux times the distance squared.
const METER = [
  { kind: 'number', label: 'Meter reads', unit: 'lx', path: ['candela'],
    get: (s, l) => l.candela / Number(l.note_meter) ** 2,
    set: (s, l, lux) => { l.candela = Number((lux * Number(l.note_meter) ** 2).toPrecision(6)); } },
  { kind: 'length', label: 'at this distance', path: ['candela'],
    get: (s, l) => Number(l.note_meter),
    set: (s, l, m) => { const lux = l.candela / Number(l.note_meter) ** 2; l.note_meter = String(m); l.candela = Number((lux * m * m).toPrecision(6)); } },
];
const STRENGTH = {
  lumens: [num('Whole output', 'lumens', 'lm')], candela: [num('On its axis', 'candela', 'cd')],
  lux: [num('Meter reads', 'lux', 'lx'), length('at this distance', 'lux_at')], nits: [num('Its surface', 'nits', 'nits')], meter: METER,
};

function strength(light) {
  if (light.kind === 'sun') return [num('Sun outside', 'lux', 'lx')];
  if (light.kind === 'sky') return [num('Sky outside', 'nits', 'nits')];
  if (!WAYS[light.kind]) return [];
  if (light.fed_by) return [];
  const way = wayOf(light);
  return [{ kind: 'choice', label: 'Known by', path: ['strength'], options: WAYS[light.kind].map((w) => [w, WAY_WORDS[w]]),
    get: () => way, set: (scene, item, value) => takeWay(scene, item, value) }, ...STRENGTH[way]];
}

function lightFields(scene, light) {
  const list = [...strength(light), percent('Dimmed to', 'dimmer', 100), num('Colour', 'kelvin', 'K', { optional: true, hint: 'camera white' })];
  if (light.fed_by) {
    const others = namesOf(scene, 'lights').filter((n) => n !== light.name);
    list.unshift(choice('Lit by', ['fed_by', 'light'], others.map((n) => [n, n])),
      percent(light.fed_by.reflectance !== undefined ? 'Gives back' : 'Lets through', ['fed_by', light.fed_by.reflectance !== undefined ? 'reflectance' : 'transmittance']));
  }
  if (light.kind === 'spot') list.push(num('Beam', 'beam_deg', '°'), num('Field', 'field_deg', '°', { optional: true, hint: 'soft edge' }));
  if (light.kind === 'panel') list.push(length('Wide', ['size', 0]), length('High', ['size', 1]));
  if (light.kind === 'tube') list.push(...xyz('from', ['One end: along', 'One end: across', 'One end: height']), ...xyz('to', ['Other end: along', 'Other end: across', 'Other end: height']));
  if (light.at) list.push(...xyz('at', POSITION));
  if (light.aim) list.push(...xyz('aim', AIM));
  if (light.through !== undefined && !Array.isArray(light.through)) list.push(choice('Comes in by', 'through', namesOf(scene, 'openings').filter((n, i) => scene.openings[i].rooms.includes('outside')).map((n) => [n, n])));
  if (light.sun) list.push(num('Stands at, from north', ['sun', 'azimuth_deg'], '°'), num('Over the horizon', ['sun', 'elevation_deg'], '°'));
  list.push(field('flag', 'Burns in shots that list no lights', 'on', { absent: true }));
  return list;
}

// An opening's place in its wall: along it, over the floor.
function openingFields(scene, opening) {
  const b = openingBox(scene, opening), up = b.axis === 2 ? 1 : 2, along = b.axis === 0 ? 1 : 0;
  const side = (label, axis, get, set) => ({ kind: 'length', label, path: ['corners'], get: (s, o) => get(openingBox(s, o)),
    set: (s, o, value) => { const now = openingBox(s, o); set(now, value); setOpening(s, o, now.lo, now.hi); } });
  const edge = (label, axis) => side(label, axis, (n) => n.lo[axis], (n, v) => { const w = n.hi[axis] - n.lo[axis]; n.lo[axis] = v; n.hi[axis] = v + w; });
  const size = (label, axis) => side(label, axis, (n) => n.hi[axis] - n.lo[axis], (n, v) => { n.hi[axis] = n.lo[axis] + v; });
  return [size('Wide', along), size(up === 2 ? 'High' : 'Deep', up), edge('Starts at', along), edge(up === 2 ? 'Over the floor' : 'Across, from', up),
    percent('Lets light through', 'transmittance', 100), num('Air each way', 'exchange_m3_per_h', 'm³/h', { optional: true, hint: opening.rooms.includes('outside') ? '0' : 'open door' })];
}

const ROOM = [length('Long, to the east', ['size', 0]), length('Wide, to the north', ['size', 1]), length('High', ['size', 2]),
  { kind: 'percent', label: 'Walls give back', unit: '%', path: ['reflectance'], absent: 50,
    get: (s, r) => 100 * (typeof r.reflectance === 'object' ? r.reflectance.walls ?? 0.5 : r.reflectance ?? 0.5),
    set: (s, r, v) => { const share = Number((v / 100).toFixed(4)); if (typeof r.reflectance === 'object') r.reflectance.walls = share; else r.reflectance = share; } },
  ...['floor', 'ceiling'].map((side) => ({ kind: 'percent', label: side === 'floor' ? 'Floor gives back' : 'Ceiling gives back', unit: '%', path: ['reflectance', side],
    get: (s, r) => 100 * (typeof r.reflectance === 'object' ? r.reflectance[side] ?? 0.5 : r.reflectance ?? 0.5),
    set: (s, r, v) => { const share = Number((v / 100).toFixed(4)); r.reflectance = { ...(typeof r.reflectance === 'object' ? r.reflectance : { walls: r.reflectance ?? 0.5, floor: r.reflectance ?? 0.5, ceiling: r.reflectance ?? 0.5 }), [side]: share }; } })),
  num('Fresh air', 'air_changes_per_h', 'changes/h', { absent: 0.5 }), num('Haze evens out in', 'mixing_min', 'min', { absent: 5 }),
  num('With doors and fans', 'purge_air_changes_per_h', 'changes/h', { optional: true, hint: 'not purged' })];

const CAMERA = [num('Lens', 'focal_mm', 'mm', { absent: 35 }), num('T-stop', 't_stop', 'T', { absent: 2.8 }), num('Index', 'iso', 'ISO', { absent: 800 }),
  num('ND', 'nd_stops', 'stops', { absent: 0 }), num('White', 'white_kelvin', 'K', { absent: 5600 }),
  field('choice', 'Curve', 'curve', { options: Object.entries(CURVES), absent: 'acescct' }),
  ...xyz('at', POSITION), ...xyz('aim', AIM)];

function pointFields(scene, point) {
  const way = ['nits', 'stops', 'reflectance'].find((w) => point[w] !== undefined) ?? 'reflectance';
  const known = { kind: 'choice', label: 'Its light', path: ['nits'], options: [['reflectance', 'from the lamps'], ['nits', 'by a spot meter'], ['stops', 'in stops to grey']],
    get: () => way, set: (s, p, value) => { for (const w of ['nits', 'stops', 'reflectance', 'facing']) delete p[w]; p[value] = { nits: 10, stops: 0, reflectance: 0.3 }[value]; } };
  const figure = { nits: num('Spot meter, without haze', 'nits', 'nits'), stops: num('Over middle grey', 'stops', 'stops'), reflectance: percent('Gives back', 'reflectance', 30) }[way];
  const where = point.on ? [choice('On', 'on', namesOf(scene, 'figures').map((n) => [n, n]))] : xyz('at', POSITION);
  return [known, figure, ...where];
}

const hazerFields = (scene) => [choice('Stands in', 'room', namesOf(scene, 'rooms').map((n) => [n, n]), { absent: namesOf(scene, 'rooms')[0] }),
  num('Uses, full on', 'fluid_ml_per_h', 'ml/h', { absent: 30 }), percent('Stays in the air', 'airborne_fraction', 90), num('Warms up in', 'warm_up_s', 's', { absent: 60 }),
  { kind: 'choice', label: 'Fluid', path: ['fluid'], options: [['glycol', 'glycol'], ['glycol-fine', 'glycol, fine'], ['glycerol', 'glycerol'], ['oil', 'oil'], ['oil-coarse', 'oil, coarse'], ...(typeof scene.fluid === 'object' ? [['own', 'as in your file']] : [])],
    get: (s) => (typeof s.fluid === 'object' ? 'own' : s.fluid ?? 'glycol'), set: (s, item, v) => { if (v !== 'own') s.fluid = v; } }];

export function fieldsOf(scene, ref) {
  const item = listOf(scene, ref.kind, ref.shot)[ref.index];
  if (!item) return [];
  switch (ref.kind) {
  case 'rooms': return ROOM;
  case 'openings': return openingFields(scene, item);
  case 'lights': return lightFields(scene, item);
  case 'cameras': return CAMERA;
  case 'points': return pointFields(scene, item);
  case 'figures': return [length('Tall', 'height', { absent: 1.7 }), num('Faces, from north', 'facing_deg', '°', { absent: 0 }), percent('Gives back', 'reflectance', 30), ...xyz('at', POSITION.slice(0, 3))];
  case 'blockers': return [length('Wide', ['size', 0]), length('High', ['size', 1]), percent('Lets through', 'transmittance', 0), percent('Gives back', 'reflectance', 3), ...xyz('at', POSITION), ...xyz('aim', AIM)];
  case 'hazer': return hazerFields(scene);
  case 'detectors': return [choice('Hangs in', 'room', namesOf(scene, 'rooms').map((n) => [n, n]), { absent: namesOf(scene, 'rooms')[0] }),
    choice('Kind', 'kind', [['point', 'optical point'], ['ionisation', 'ionisation'], ['beam', 'beam'], ['aspirating', 'aspirating']], { absent: 'point' }),
    num('Alarms at', 'alarm_db_per_m', 'dB/m', { optional: true, hint: 'its kind’s' })];
  default: return [];
  }
}
