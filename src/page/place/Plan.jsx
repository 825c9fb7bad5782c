// SPDX-License-Identifier: GPL-3.0-or-later
// The drawing: from above, and below it from the side to the same scale. Things are dragged with finger
// or mouse and moved with keys; the form beside it says the same in numbers. The paper is drawn to and fro
// by what is no thing; up and down it is the page that scrolls.
import { useLayoutEffect, useMemo, useRef, useState } from 'preact/hooks';
import { listOf, nameOf } from '../state/scene.js';
import { lengthText, lengthWords } from '../state/units.js';
import { kindWord } from '../state/words.js';
import { AXES, boxes, bounds, moveTo, partsOf, placeOf, roomAt, snap, stepOf } from './geometry.js';
import { placeLabels } from './labels.js';
import { handlesOf, shapesOf } from './shapes.js';

const PAD = 30, HEAD = 26, TRAVEL = 6; // [px]; travel before a touch is a drag
const key = (ref, part) => `${ref.kind}/${ref.index}/${typeof part === 'object' ? `${part.axis}${part.side}` : part}`;

// How the drawing lies on the screen: metres to pixels for each of its two views.
// pan: how far the paper is drawn along x and y [m].
function layout(scene, width, focus, zoom, side, pan = [0, 0]) {
  const all = boxes(scene), only = all.filter((b) => b.name === focus);
  if (all.length === 0) return null;
  const b = bounds(only.length ? only : all), whole = bounds(all);
  const across = side === 'across' ? Math.max(b.hi[0] - b.lo[0], b.hi[1] - b.lo[1]) : b.hi[0] - b.lo[0];
  const scale = Math.min((width - 2 * PAD) / across, 0.9 * width / (b.hi[1] - b.lo[1]), 130) * zoom;
  const tall = (b.hi[1] - b.lo[1]) * scale, deep = (b.hi[2] - b.lo[2]) * scale;
  const [u] = AXES[side];
  // the middle of the paper stays over the plan
  const centre = (axis) => Math.min(whole.hi[axis], Math.max(whole.lo[axis], (b.lo[axis] + b.hi[axis]) / 2 + pan[axis])), left = (axis) => width / 2 - (centre(axis) - b.lo[axis]) * scale;
  const top = HEAD + 14, base = top + tall + 34 + HEAD;
  return {
    width, scale, height: base + deep + 22, base, whole, centre, middle: [0, 1].map((a) => (b.lo[a] + b.hi[a]) / 2),
    above: { x: (v) => left(0) + (v - b.lo[0]) * scale, y: (v) => top + (b.hi[1] - v) * scale, axes: AXES.above },
    side: { x: (v) => left(u) + (v - b.lo[u]) * scale, y: (v) => base + (b.hi[2] - v) * scale, axes: AXES[side] },
    clip: { above: [0, HEAD - 4, width, tall + 34], side: [0, base - 10, width, deep + 30] },
  };
}

const points = (poly, v) => poly.map(([a, b]) => `${v.x(a).toFixed(1)},${v.y(b).toFixed(1)}`).join(' ');

function Shape({ s, v, scale, chosen }) {
  const cls = s.cls + (chosen ? ' chosen' : '');
  if (s.box) {
    const [[x0, y0], [x1, y1]] = s.box;
    return <rect class={cls} x={v.x(x0)} y={v.y(y1)} width={(x1 - x0) * scale} height={(y1 - y0) * scale} />;
  }
  if (s.poly) return s.poly.length === 2 ? <polyline class={cls} points={points(s.poly, v)} /> : <polygon class={cls} points={points(s.poly, v)} />;
  if (s.open) return <polyline class={cls} points={points(s.open, v)} />;
  if (s.line) return <g class={cls}><polyline class="gap" points={points(s.line, v)} /><polyline class="sill" points={points(s.line, v)} /></g>;
  if (s.dot) return <circle class={cls} cx={v.x(s.dot[0])} cy={v.y(s.dot[1])} r={Math.max(5, s.size * scale)} />;
  const [x, z] = s.body, h = s.tall * scale, w = Math.max(6, 0.26 * s.tall * scale), head = Math.max(3, 0.07 * s.tall * scale);
  return <g class={cls}><rect x={v.x(x) - w / 2} y={v.y(z) - 0.818 * h} width={w} height={0.818 * h} rx={w / 3} />
    <circle cx={v.x(x)} cy={v.y(z) - h + head} r={head} /></g>;
}

function Mark({ h, v, scene }) {
  const [x, y] = [v.x(h.xy[0]), v.y(h.xy[1])];
  if (h.mark === 'camera') {
    const t = partsOf(scene, h.ref)[0]?.at ?? h.at, turn = Math.atan2(v.y(t[v.axes[1]]) - y, v.x(t[v.axes[0]]) - x) * 180 / Math.PI;
    return <path class="ink" d="M-9 -6h12v12h-12zM4 -3l8 -4v14l-8 -4z" transform={`translate(${x} ${y}) rotate(${turn})`} />;
  }
  if (h.mark === 'lamp') return <circle class={h.lit ? 'lamp' : 'lamp off'} cx={x} cy={y} r="7" />;
  if (h.mark === 'sun') return <path class={h.lit ? 'lamp' : 'lamp off'} d={`M${x} ${y - 8}l8 8l-8 8l-8 -8z`} />;
  if (h.mark === 'point') return <g><circle class="ring" cx={x} cy={y} r="6" /><circle class="ink" cx={x} cy={y} r="2" /></g>;
  if (h.mark === 'hazer') return <rect class="hz" x={x - 8} y={y - 12} width="16" height="12" rx="2" />;
  return null;
}

const spoken = (scene, h, unit) => `${h.name}, ${kindWord(h.ref.kind, listOf(scene, h.ref.kind, h.ref.shot)[h.ref.index])}, ${h.at.map((m) => lengthText(m, unit)).join(', ')}`;

export function Plan({ model }) {
  const { shot, selected, units: unit } = model, last = useRef(null);
  // a room without a size cannot be drawn: the one before it stays
  const drawable = boxes(model.store.scene).every((b) => b.hi.every((v, i) => v > b.lo[i]));
  if (drawable) last.current = model.store.scene;
  const scene = drawable ? model.store.scene : last.current ?? model.good ? last.current ?? JSON.parse(model.good) : { ...model.store.scene, rooms: [] };
  const svg = useRef(null), frame = useRef(null), gesture = useRef({ fingers: new Map() });
  const [width, setWidth] = useState(328);
  const [wanted, setFocus] = useState(() => roomOfShot(scene, shot)), focus = wanted === null || boxes(scene).some((b) => b.name === wanted) ? wanted : roomOfShot(scene, shot);
  const [zoom, setZoom] = useState(1), [pan, setPan] = useState([0, 0]);
  const [side, setSide] = useState('along');
  const [, setDrags] = useState(0);
  useLayoutEffect(() => {
    const see = new ResizeObserver(([e]) => setWidth(Math.max(260, Math.floor(e.contentRect.width))));
    see.observe(frame.current);
    return () => see.disconnect();
  }, []);
  // the paper lies still while something is dragged
  const lay = gesture.current.drag?.lay ?? layout(scene, width, focus, zoom, side, pan);
  const views = useMemo(() => [['above', 'above'], ['side', side]].map(([which, view]) => ({ which, view, shapes: shapesOf(scene, shot, view), handles: handlesOf(scene, shot, view) })), [scene, shot, side]);
  if (!lay) return <div class="plan" ref={frame}><p class="empty">No room yet. <button onClick={() => model.addRoom()}>Draw a room</button></p></div>;
  const step = stepOf(unit), isChosen = (ref) => selected && ref.kind === selected.kind && ref.index === selected.index;

  const fromScreen = (e, which) => {
    const m = svg.current.getScreenCTM().inverse(), x = e.clientX * m.a + m.e, y = e.clientY * m.d + m.f, v = lay[which];
    return [(x - v.x(0)) / lay.scale, (v.y(0) - y) / lay.scale];
  };
  const move = (ref, part, which, to, group) => model.store.change(`moved ${nameOf(listOf(scene, ref.kind, ref.shot)[ref.index], ref.kind, ref.index)}`,
    (s) => moveTo(s, ref, part, lay[which].axes, to), group);

  // Which drawing a finger is on.
  const under = (e) => (e.clientY - svg.current.getBoundingClientRect().top > lay.base - 30 ? side : 'above');
  // The paper goes with the finger; what it is drawn to stays over the plan.
  function drawPaper(x) {
    const { paper } = gesture.current, to = [...paper.from];
    if (!paper.going && Math.abs(x - paper.x) < TRAVEL) return;
    if (!paper.going) svg.current.setPointerCapture([...gesture.current.fingers.keys()][0]);
    paper.going = true;
    const { middle, whole } = lay, a = paper.axis;
    to[a] = Math.min(whole.hi[a], Math.max(whole.lo[a], middle[a] + paper.from[a] - (x - paper.x) / paper.scale)) - middle[a];
    setPan(to);
  }
  // What is focused by keys comes into sight.
  function bringIntoSight(h, which) {
    const x = lay[which].x(h.xy[0]), a = lay[which].axes[0];
    if (x > 12 && x < width - 12) return;
    const to = [...pan];
    to[a] += (x - width / 2) / lay.scale;
    setPan(to);
  }
  function down(e) {
    const g = gesture.current, target = e.target.closest('[data-h]');
    g.fingers.set(e.pointerId, [e.clientX, e.clientY]);
    if (g.fingers.size > 1) { // a second finger: no drag, the paper moves
      if (g.drag) model.store.putBack(g.drag.group);
      g.drag = null;
      const [a, b] = [...g.fingers.values()];
      g.pinch = { far: Math.hypot(a[0] - b[0], a[1] - b[1]), zoom };
      g.paper = { x: (a[0] + b[0]) / 2, axis: AXES[under(e)][0], scale: lay.scale, from: pan, going: true };
      return;
    }
    g.paper = target ? null : { x: e.clientX, axis: AXES[under(e)][0], scale: lay.scale, from: pan };
    if (!target) return;
    const [which] = target.dataset.h.split(':'), list = grips(views.find((q) => q.which === which));
    // of marks that lie over one another the nearest is meant
    const [fx, fy] = fromScreen(e, which), far = (h) => Math.hypot(h.xy[0] - fx, h.xy[1] - fy);
    const held = list.reduce((a, h) => (far(h) < far(a) - 1e-9 ? h : a));
    const [u, w] = lay[which].axes, start = fromScreen(e, which), at = held.at;
    g.drag = { ...held, lay, which, start, base: [at[u], at[w]], group: `${key(held.ref, held.part)}:${e.timeStamp}`, from: [e.clientX, e.clientY] };
    svg.current.setPointerCapture(e.pointerId);
  }
  function dragged(e) {
    const g = gesture.current;
    if (!g.fingers.has(e.pointerId)) return;
    g.fingers.set(e.pointerId, [e.clientX, e.clientY]);
    if (g.pinch && g.fingers.size > 1) {
      const [a, b] = [...g.fingers.values()];
      setZoom(Math.min(4, Math.max(0.5, g.pinch.zoom * Math.hypot(a[0] - b[0], a[1] - b[1]) / Math.max(20, g.pinch.far))));
      drawPaper((a[0] + b[0]) / 2);
      return;
    }
    if (g.paper) { if (g.fingers.size === 1 && !g.pinch) drawPaper(e.clientX); return; }
    const d = g.drag;
    if (!d) return;
    if (!d.going && Math.hypot(e.clientX - d.from[0], e.clientY - d.from[1]) < TRAVEL) return;
    if (!d.going) model.select(d.ref);
    d.going = true;
    const now = fromScreen(e, d.which);
    move(d.ref, d.part, d.which, now.map((v, i) => snap(d.base[i] + v - d.start[i], step)), d.group);
  }
  function up(e, cancelled) {
    const g = gesture.current, d = g.drag;
    g.fingers.delete(e.pointerId);
    if (g.fingers.size === 0) { g.pinch = null; g.drawn = Boolean(g.paper?.going); g.paper = null; }
    g.drag = null;
    if (!d) return;
    if (cancelled) model.store.putBack(d.group);
    else if (!d.going) model.select(d.ref);
    model.store.endGroup();
    setDrags((n) => n + 1);
  }
  const keyGroup = useRef(null);
  function pressed(e, h, which) {
    const v = lay[which], n = (e.shiftKey ? 10 : 1) * step, by = { ArrowLeft: [-n, 0], ArrowRight: [n, 0], ArrowUp: [0, n], ArrowDown: [0, -n] }[e.key];
    if (e.key === 'Enter' || e.key === ' ') { e.preventDefault(); return model.select(h.ref); }
    if (e.key === 'Delete') { e.preventDefault(); return model.remove(h.ref); }
    if (e.key === 'Escape') { model.store.putBack(keyGroup.current); keyGroup.current = null; return undefined; }
    const height = { PageUp: n, PageDown: -n }[e.key];
    if (!by && !height) return undefined;
    e.preventDefault();
    keyGroup.current ??= `keys:${e.timeStamp}`;
    const now = model.store.scene;
    const fresh = typeof h.part === 'object' || h.part !== 'at' ? partsOf(now, h.ref).find((p) => key(h.ref, p.part) === key(h.ref, h.part)).at : placeOf(now, h.ref);
    if (!fresh) return undefined;
    const axes = height ? AXES.along : v.axes, to = axes.map((a, i) => snap(fresh[a] + (height ? [0, height] : by)[i], step));
    model.store.change(`moved ${h.name}`, (s) => moveTo(s, h.ref, h.part, axes, to), keyGroup.current);
    model.say(`${h.name}: ${(h.part === 'at' ? placeOf(model.store.scene, h.ref) : to).map((m) => lengthText(m, unit)).join(', ')}`);
    return undefined;
  }
  // What can be held in a view: each thing, and of the chosen one its aim, ends or walls.
  const grips = (view) => {
    const list = view.handles.map((h) => ({ ...h }));
    if (!selected || !listOf(scene, selected.kind, shot)[selected.index]) return list;
    const axes = lay[view.which].axes;
    const name = nameOf(listOf(scene, selected.kind, shot)[selected.index], selected.kind, selected.index);
    if (selected.kind === 'rooms') list.push({ ref: selected, part: 'at', mark: 'room', rank: 0, at: placeOf(scene, selected), xy: axes.map((a) => placeOf(scene, selected)[a]), name });
    for (const p of partsOf(scene, selected)) {
      if (typeof p.part === 'object' && !axes.includes(p.part.axis)) continue;
      list.push({ ref: selected, part: p.part, mark: 'grip', rank: 0, at: p.at, xy: axes.map((a) => p.at[a]), name: `${name}: ${p.name}` });
    }
    return list;
  };
  const chooseRoom = (index) => (e) => { if (!gesture.current.drag && !gesture.current.drawn) { e.stopPropagation(); model.select({ kind: 'rooms', index }); } };
  const rooms = boxes(scene);
  const metre = unit === 'ft' ? 0.3048 * 3 : 1;

  return <div class="plan" ref={frame}>
    <div class="planbar">
      <label class="vh" for="plan-room">Drawn</label>
      <select id="plan-room" value={focus ?? ''} onChange={(e) => { setFocus(e.target.value || null); setZoom(1); setPan([0, 0]); }}>
        <option value="">Whole plan</option>{rooms.map((r) => <option value={r.name} key={r.name}>{r.name}</option>)}
      </select>
      <button onClick={() => setZoom(Math.max(0.5, zoom / 1.25))} aria-label="Draw smaller">−</button>
      <button onClick={() => setZoom(Math.min(4, zoom * 1.25))} aria-label="Draw larger">+</button>
      <button aria-pressed={side === 'across'} onClick={() => setSide(side === 'along' ? 'across' : 'along')}>{side === 'along' ? 'Side: along' : 'Side: across'}</button>
    </div>
    <svg ref={svg} width={width} height={lay.height} viewBox={`0 0 ${width} ${lay.height}`} role="group"
      aria-label="The place from above, and below it from the side, to one scale. Arrow keys move what is focused by 5 centimetres, with Shift by 50; Page keys change its height."
      onPointerDown={down} onPointerMove={dragged} onPointerUp={(e) => up(e, false)} onPointerCancel={(e) => up(e, true)}>
      <text x="8" y="18" class="q">From above</text>
      <g class="wl"><path d={`M${width - 12 - metre * lay.scale} 14h${metre * lay.scale}m0 -4v8m${-metre * lay.scale} -8v8`} /></g>
      <text x={width - 18 - metre * lay.scale} y="18" class="q" text-anchor="end">{unit === 'ft' ? '3 ft' : '1 m'}</text>
      <text x="8" y={lay.base - 20} class="q">{side === 'along' ? 'From the side, looking north' : 'From the side, looking west'}</text>
      {views.map((view) => {
        const v = lay[view.which], held = grips(view);
        const marks = held.map((h) => ({ x: v.x(h.xy[0]), y: v.y(h.xy[1]), r: { grip: 9, camera: 13, room: 11 }[h.mark] ?? 8, rank: isChosen(h.ref) ? 0 : h.rank, text: h.mark === 'grip' || (h.rank > 5 && !isChosen(h.ref)) ? '' : h.name }));
        const clip = lay.clip[view.which], labels = placeLabels(marks, clip);
        return <g key={view.which} clip-path={`url(#clip-${view.which})`}>
          <clipPath id={`clip-${view.which}`}><rect x={clip[0]} y={clip[1]} width={clip[2]} height={clip[3]} /></clipPath>
          {view.shapes.map((s) => <Shape key={`${s.ref.kind}${s.ref.index}${s.cls}`} s={s} v={v} scale={lay.scale} chosen={isChosen(s.ref)} />)}
          {view.which === 'above' && rooms.map((r, i) => <rect class="floor" key={r.name} x={v.x(r.lo[0])} y={v.y(r.hi[1])} width={(r.hi[0] - r.lo[0]) * lay.scale} height={(r.hi[1] - r.lo[1]) * lay.scale} onClick={chooseRoom(i)} />)}
          {held.map((h, i) => {
            const x = v.x(h.xy[0]), y = v.y(h.xy[1]), chosen = isChosen(h.ref);
            const focusable = view.which === 'above';
            return <g key={key(h.ref, h.part)} data-h={`${view.which}:${i}`} data-name={h.name} class={`handle ${chosen ? 'chosen' : ''}`}
              role={focusable ? 'button' : undefined} tabIndex={focusable ? 0 : undefined} aria-label={focusable ? spoken(scene, h, unit) : undefined} aria-hidden={focusable ? undefined : 'true'}
              aria-pressed={focusable ? chosen : undefined} onKeyDown={focusable ? (e) => pressed(e, h, view.which) : undefined} onFocus={focusable ? () => { if (!gesture.current.fingers.size) bringIntoSight(h, view.which); } : undefined} onBlur={() => { keyGroup.current = null; model.store.endGroup(); }}>
              <circle class="hit" cx={x} cy={y} r={h.mark === 'grip' ? 20 : 22} />
              {h.mark === 'grip' ? <rect class="grip" x={x - 7} y={y - 7} width="14" height="14" rx="3" /> : h.mark === 'room' ? <path class="grip" d={`M${x - 9} ${y}h18M${x} ${y - 9}v18`} /> : <Mark h={h} v={v} scene={scene} />}
              {chosen && h.part === 'at' && h.mark !== 'room' && <circle class="sel" cx={x} cy={y} r="15" />}
            </g>;
          })}
          <g aria-hidden="true">{labels.map((l, i) => l && <text key={i} x={l.x} y={l.y} text-anchor={l.anchor} class={isChosen(held[i].ref) ? 'halo b' : 'halo'}>{held[i].name}</text>)}</g>
        </g>;
      })}
    </svg>
    <p class="size quiet small">{drawable ? chosenWords(scene, selected, shot, unit) ?? sizeWords(scene, focus, unit) : 'Drawn as it was: a room has no size.'}</p>
  </div>;
}

// What is chosen, and where it is.
function chosenWords(scene, ref, shot, unit) {
  const item = ref && listOf(scene, ref.kind, ref.shot ?? shot)[ref.index], at = item && ref.kind !== 'rooms' && placeOf(scene, { ...ref, shot: ref.shot ?? shot });
  return at ? `${nameOf(item, ref.kind, ref.index)}: ${at.map((m) => lengthText(m, unit)).join(', ')}${unit === 'ft' ? '' : ' m'}, its numbers below` : null;
}
function sizeWords(scene, focus, unit) {
  const b = boxes(scene).find((r) => r.name === focus);
  const count = boxes(scene).length;
  if (!b) return count === 1 ? 'one room' : `${count} rooms`;
  const [x, y, z] = b.hi.map((v, i) => lengthWords(v - b.lo[i], unit));
  return `${b.name}: ${x} long, ${y} wide, ${z} high`;
}
export function roomOfShot(scene, shot) {
  const camera = (scene.cameras ?? []).findIndex((c, i) => nameOf(c, 'cameras', i) === scene.shots?.[shot]?.camera);
  const at = camera >= 0 && placeOf(scene, { kind: 'cameras', index: camera });
  return (at ? roomAt(scene, at)?.name : null) ?? boxes(scene)[0]?.name ?? null;
}
