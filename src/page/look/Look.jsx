// SPDX-License-Identifier: GPL-3.0-or-later
// The look: what the camera sees, and under it the one control of its haze, in words and numbers.
import { useEffect, useRef, useState } from 'preact/hooks';
import { inFrame, placeOf, seenAt } from '../place/geometry.js';
import { freeName, nameOf, namesOf, toFile } from '../state/scene.js';
import { digits, lengthWords, stops } from '../state/units.js';
import { beamWord, blackWord, hazeWord, visibility } from '../state/words.js';
import { choiceMarks, hitFigure, scaleOf, stick, wantForms } from './haze.js';
import { Scout } from './Scout.jsx';
import { Wants } from './Wants.jsx';

function Picture({ picture, label }) {
  const canvas = useRef(null);
  useEffect(() => {
    const c = canvas.current;
    if (!picture || !c) return;
    c.width = picture.width;
    c.height = picture.height;
    c.getContext('2d').putImageData(new ImageData(picture.pixels, picture.width, picture.height), 0, 0);
  }, [picture]);
  return <canvas ref={canvas} role={label ? 'img' : undefined} aria-label={label || undefined} aria-hidden={label ? undefined : 'true'} />;
}
export { Picture };

// Marks in the frame: the shot's points, then beams that cross it.
function marksOf(model) {
  const { scene } = model.store, camera = model.camera, told = model.answers.predictOf?.shot === model.shot ? model.answers.predict : null;
  const marks = [];
  (scene.shots[model.shot].points ?? []).forEach((p, index) => {
    const at = placeOf(scene, { kind: 'points', index, shot: model.shot }), seen = at && inFrame(scene, camera, at);
    if (seen) marks.push({ ...seen, kind: 'point', index, name: nameOf(p, 'points', index), told: told?.points.find((q) => q.name === nameOf(p, 'points', index)) });
  });
  for (const b of told?.beams ?? []) {
    const seen = b.near && inFrame(scene, camera, b.near);
    if (seen) marks.push({ ...seen, kind: 'beam', name: b.light, told: b });
  }
  return spread(marks.filter((m) => m.x > -0.02 && m.x < 1.02 && m.y > -0.02 && m.y < 1.02).map((m) => ({ ...m, x: Math.min(0.97, Math.max(0.03, m.x)), y: Math.min(0.95, Math.max(0.05, m.y)) })));
}
// Numbers of marks that lie close go to different sides, and none out of the frame.
function spread(marks) {
  marks.forEach((m, i) => {
    const near = marks.filter((o, j) => j < i && Math.abs(o.x - m.x) < 0.12 && Math.abs(o.y - m.y) < 0.14);
    m.side = near.some((o) => o.side === 'at-left') || (m.x < 0.12 && near.length) ? 'at-low' : near.length || m.x > 0.9 ? 'at-left' : '';
  });
  return marks;
}

function Sentence({ model, mark, number }) {
  const t = mark.told, unit = model.units;
  if (mark.kind === 'beam') {
    return <>
      <b>{number} Beam: {mark.name}</b>{t && <>: {t.over_background_stops.toFixed(2)} stop over what is behind it, {beamWord(t.reads)}{t.reads_from_m !== null && t.reads_to_m !== null ? `, reads from ${lengthWords(t.reads_from_m, unit)} to ${lengthWords(t.reads_to_m, unit)}` : ''}.</>}
    </>;
  }
  return <><b>{number} {mark.name}</b>{t && (t.hidden ? `: hidden by ${t.hidden_by}, ${lengthWords(t.hidden_at_m, unit)} away.`
    : `, ${lengthWords(t.distance_m, unit)} away: ${Math.abs(t.change_stops) < 0.005 ? 'no change' : `${stops(Math.abs(t.change_stops)).slice(1)} stop ${t.change_stops > 0 ? 'brighter' : 'darker'}`}, black at ${digits(t.black_percent)} %.`)}</>;
}

function View({ model, tapped, setTapped, clear, setClear }) {
  const { pictures } = model, box = useRef(null), hold = useRef(0), down = useRef(null);
  const shown = clear ? pictures.clear : pictures.now, marks = marksOf(model);
  const mine = shown && shown.shot === model.shot ? shown : null;
  const camera = model.camera, [w, h] = camera.sensor_mm ?? [24.9, 14];
  const release = () => { clearTimeout(hold.current); if (clear) setClear(false); };
  function tap(e) {
    const held = down.current;
    down.current = null;
    clearTimeout(hold.current);
    if (clear) return setClear(false);
    if (!held || e.target.closest('.pt')) return undefined;
    const r = box.current.getBoundingClientRect();
    return addPoint(model, (e.clientX - r.left) / r.width, (e.clientY - r.top) / r.height, setTapped);
  }
  return <figure class="view" ref={box} style={{ aspectRatio: model.scout?.shown && model.scout.shot === model.shotName ? `${model.scout.width} / ${model.scout.height}` : `${w} / ${h}` }} aria-label={`What camera ${model.store.scene.shots[model.shot].camera} sees with this haze`}
    onPointerDown={(e) => { if (e.target.closest('.pt') || !e.isPrimary) return; down.current = [e.clientX, e.clientY]; hold.current = setTimeout(() => { down.current = null; setClear(true); }, 400); }}
    onPointerMove={(e) => { const d = down.current; if (d && Math.hypot(e.clientX - d[0], e.clientY - d[1]) > 10) { down.current = null; clearTimeout(hold.current); } }}
    onPointerUp={tap} onPointerCancel={release} onPointerLeave={release} onContextMenu={(e) => e.preventDefault()}>
    {mine ? <Picture picture={mine} label={`${model.shotName}, ${clear ? 'no haze' : `${hazeWord(model.density).toLowerCase()} haze`}`} /> : <p class="waiting">The view is being worked out</p>}
    {clear && <span class="tag">No haze</span>}
    {marks.map((m, i) => <button class={`pt ${m.side}`} key={m.kind + m.name} style={{ left: `${100 * m.x}%`, top: `${100 * m.y}%` }} aria-pressed={tapped === m.kind + m.name}
      aria-label={`${i + 1} ${m.kind === 'beam' ? 'Beam: ' : ''}${m.name}`} onClick={() => setTapped(m.kind + m.name)}><i /><b>{i + 1}</b></button>)}
  </figure>;
}

// A tapped place becomes a point of the shot, on a person where one stands there.
export function addPoint(model, x, y, after) {
  const { scene } = model.store, camera = model.camera, seen = seenAt(scene, camera, x, y);
  const person = hitFigure(scene, seen.from, seen.way);
  if (!person && !seen.wall) return;
  let name = '';
  model.store.change('added a place to look at', (s) => {
    const points = (s.shots[model.shot].points ??= []);
    name = freeName(points.map((p, i) => nameOf(p, 'points', i)), person ? person.name : 'place');
    // just off the wall, so that rounding cannot put it behind
    const at = seen.wall?.map((v, i) => v - seen.way[i] * 0.01);
    points.push(person ? { name, on: person.name, height: toFile(s, [person.height])[0] } : { name, at: toFile(s, at), reflectance: 0.3 });
  });
  after?.('point' + name);
}

function Slider({ model }) {
  const k = model.density, choice = model.answers.choices[model.shotName];
  const scale = scaleOf(Math.max(k, choice?.extinction_per_m?.highest ?? 0)), at = scale.place(k);
  const band = choice?.extinction_per_m, marks = choiceMarks(scale, band);
  const words = `${hazeWord(k)}, ${k > 0 ? `visibility ${lengthWords(visibility(k), model.units)}` : ''}${choice ? `, ${k >= (band.lowest ?? Infinity) && k <= (band.highest ?? -1) ? 'inside' : 'outside'} the wanted band` : ''}`;
  const go = (p) => model.tryDensity(scale.density(Math.min(1, Math.max(0, p))));
  const keys = (e) => {
    const step = { PageUp: 0.1, PageDown: -0.1 }[e.key];
    if (step) { e.preventDefault(); model.setDensity(scale.density(Math.min(1, Math.max(0, at + step)))); }
  };
  const left = (p) => `calc(15px + (100% - 30px) * ${p.toFixed(4)})`;
  return <><div class="slide">
    <button aria-label="Thinner" onClick={() => model.setDensity(scale.density(Math.max(0, at - 0.025)))}>−</button>
    <div class="track"><div class="rail" />
      {marks.band && <div class="band" style={{ left: left(marks.band[0]), width: `calc((100% - 30px) * ${(marks.band[1] - marks.band[0]).toFixed(4)})` }}><span>wanted</span></div>}
      {marks.best !== null && <div class={marks.back ? 'best back' : 'best'} style={{ left: left(marks.best) }}><span>best</span></div>}
      <input type="range" id="k" min="0" max="1000" step="5" value={Math.round(at * 1000)} aria-label={`Haze of ${model.shotName}`} aria-valuetext={words}
        onInput={(e) => go(stick(marks.best, e.currentTarget.value / 1000))} onChange={() => { if (model.live !== null) model.setDensity(model.live); }} onKeyDown={keys} /></div>
    <button aria-label="Thicker" onClick={() => model.setDensity(scale.density(Math.min(1, at + 0.025)))}>+</button>
  </div><div class="ends" aria-hidden="true"><span>none</span><span /><span>heavy</span></div></>;
}

function Costs({ model }) {
  const told = model.answers.predictOf?.shot === model.shot ? model.answers.predict : null;
  if (!told) return null;
  const list = wantForms(told, model.units);
  return <dl class={`three ${model.busy.has('shot') ? 'settling' : ''}`} aria-label="What this haze costs and gives">
    {list.map((w, i) => <div key={i} class={w.met === false ? 'missed' : ''}><dt>{w.title}</dt><dd><span class="n">{w.value}<span class="unit">{w.unit}</span></span><br /><span class="lim">{w.limit}</span></dd></div>)}
  </dl>;
}

function verdict(told) {
  const seen = told.points.filter((p) => !p.hidden), worst = seen.reduce((a, p) => (p.black_lift_percent > (a?.black_lift_percent ?? -1) ? p : a), null);
  const beam = told.beams[0], lost = Math.max(0, ...told.contrasts.map((c) => c.lost_stops));
  const contrast = lost < 0.1 ? 'next to no contrast' : lost < 0.35 ? 'little contrast' : 'much contrast';
  return <>{beam && <>The beam of {beam.light} is <b>{beamWord(beam.reads)}</b>. </>}{worst && <>Haze costs <b>{blackWord(worst.black_lift_percent)}</b> at {worst.name}{told.contrasts.length ? ` and ${contrast}` : ''}.</>}</>;
}

function Empty({ model }) {
  const { scene } = model.store, cameras = namesOf(scene, 'cameras');
  return <section class="screen" id="look" aria-labelledby="h-look"><header><h1 id="h-look" tabindex="-1">The look</h1></header>
    <p>No shots yet. What does the camera see?</p>
    <div class="acts">{cameras.length ? cameras.map((c) => <button class="main-act" key={c} onClick={() => model.addShot(c)}>Make a shot of camera {c}</button>) : <a class="btn main-act" href="#place">Add a camera in the place</a>}</div></section>;
}

export function Look({ model }) {
  const { scene } = model.store, [tapped, setTapped] = useState(null), [clear, setClear] = useState(false);
  if (!scene.shots?.length || !model.camera) return <Empty model={model} />;
  const camera = model.camera, k = model.density, told = model.answers.predictOf?.shot === model.shot ? model.answers.predict : null;
  const marks = marksOf(model), chosen = marks.find((m) => m.kind + m.name === tapped) ?? marks[0], choice = model.answers.choices[model.shotName];
  const wanted = chosen?.kind === 'beam' && !chosen.told?.wanted;
  const far = visibility(k);
  return <section class="screen" id="look" aria-labelledby="h-look">
    <header><div><h1 id="h-look" tabindex="-1">{model.shotName}</h1><p class="quiet small">Camera {scene.shots[model.shot].camera}, {camera.focal_mm ?? 35} mm, T{scene.shots[model.shot].t_stop ?? camera.t_stop ?? 2.8}, ISO {scene.shots[model.shot].iso ?? camera.iso ?? 800}</p></div>
      {scene.shots.length > 1 && <label class="shotpick"><span class="vh">Shot</span><select value={model.shot} onChange={(e) => model.showShot(Number(e.currentTarget.value))}>{namesOf(scene, 'shots').map((n, i) => <option value={i} key={n}>{n}</option>)}</select></label>}</header>
    <View model={model} tapped={chosen && chosen.kind + chosen.name} setTapped={setTapped} clear={clear} setClear={setClear} />
    {model.pictures.why && model.faults.length === 0 && <p class="miss" role="status">The view is the one before: {model.pictures.why}.</p>}
    <div class="tapped"><p aria-live="polite">{chosen ? <Sentence model={model} mark={chosen} number={marks.indexOf(chosen) + 1} /> : 'Tap a place in the view to hear what haze does to it.'}
      {wanted && <> <button class="small-act" onClick={() => model.store.change(`want the beam of ${chosen.name}`, (s) => { (s.shots[model.shot].wants ??= []).push({ want: 'beam', light: chosen.name, near: toFile(s, chosen.told.near), at_least_stops: 0.25 }); })}>Want it to read</button></>}</p>
      <button class="hold" aria-pressed={clear} onPointerDown={(e) => { e.currentTarget.setPointerCapture(e.pointerId); setClear(true); }} onPointerUp={() => setClear(false)} onPointerCancel={() => setClear(false)} onBlur={() => setClear(false)} onContextMenu={(e) => e.preventDefault()}
        onKeyDown={(e) => { if (e.key === ' ' || e.key === 'Enter') { e.preventDefault(); setClear(true); } }} onKeyUp={() => setClear(false)}>Hold:<br />no haze</button></div>
    <div class="haze">
      <div class="word"><output for="k">{hazeWord(k)}</output><p><span class="sight"><span class="quiet">visibility</span> {k > 0 ? lengthWords(far, model.units) : 'clear'}</span><br />
        <span class="small quiet">{k.toFixed(k < 0.01 ? 4 : 3)} /m{told ? `, ${digits(told.density.mass_mg_per_m3)} mg/m³` : ''}</span></p></div>
      <Costs model={model} />
      <Slider model={model} />
      {choice?.extinction_per_m?.recommended > 0 && Math.abs(choice.extinction_per_m.recommended / Math.max(k, 1e-9) - 1) > 0.02 && <div class="acts"><button onClick={() => model.setDensity(choice.extinction_per_m.recommended)}>Take the best: {hazeWord(choice.extinction_per_m.recommended).toLowerCase()}, {choice.extinction_per_m.recommended.toFixed(3)} /m</button></div>}
      {model.busy.has('band') && <p class="small quiet" role="status">Working out what this shot wants.</p>}
      {choice?.unreachable?.map((u) => <p class="miss" key={u.says}>No haze gives this: {u.says}, {u.why}.</p>)}
    </div>
    {told && <p class="sentence">{verdict(told)}</p>}
    <Wants model={model} />
    <Scout model={model} />
    {told && told.points.length > 0 && <table class="rows"><caption>Every place at this haze</caption><thead><tr><th scope="col">Place</th><th scope="col">Away</th><th scope="col">Change</th><th scope="col">Black</th></tr></thead><tbody>
      {told.points.map((p) => <tr key={p.name}><th scope="row">{p.name}</th><td>{lengthWords(p.distance_m, model.units)}</td><td>{p.hidden ? 'hidden' : `${stops(p.change_stops)} stop`}</td><td>{digits(p.black_percent)} %</td></tr>)}</tbody></table>}
    {told && <Makers told={told} />}
  </section>;
}

// Which lamps make the veil, at the point that has most of it.
function Makers({ told }) {
  const p = told.points.filter((q) => !q.hidden).sort((a, b) => b.veil_nits - a.veil_nits)[0];
  if (!p || !(p.veil_nits > 0)) return null;
  const list = Object.entries(p.veil_by_light).map(([n, v]) => [n === 'indirect' ? 'room bounce' : n, v / p.veil_nits]).filter(([, v]) => v >= 0.01).sort((a, b) => b[1] - a[1]);
  return <details class="all"><summary>Who makes the veil?</summary><p class="small quiet">At {p.name}, the share of each lamp.</p>
    <table class="rows"><tbody>{list.map(([n, v]) => <tr key={n}><th scope="row">{n}</th><td>{(100 * v).toFixed(0)} %</td></tr>)}</tbody></table></details>;
}
