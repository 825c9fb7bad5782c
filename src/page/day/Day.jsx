// SPDX-License-Identifier: GPL-3.0-or-later
// The day as the page's spine: time runs down, haze grows to the right, and shots, hazer, wanted bands and
// alarms share that axis. The curve is drawn over the rows as they fell on the page.
import { useLayoutEffect, useRef, useState } from 'preact/hooks';
import { Picture } from '../look/Look.jsx';
import { nameOf, namesOf } from '../state/scene.js';
import { clock, digits, duration, lengthWords } from '../state/units.js';
import { CAUTION, hazeWord, troubleWords, visibility } from '../state/words.js';
import { Paper } from './Paper.jsx';
import { ShotForm } from './ShotForm.jsx';
import { alarmsOf, burstsOf, crossing, fromAbout, orderBy, reorder } from './plan.js';

const WIDE = 84, LEFT = 8; // [px] of the strip

function AlarmLine({ model }) {
  const { cautions } = model.answers, start = model.store.scene.start;
  const reached = (cautions?.detectors ?? []).filter((d) => d.reached);
  if (reached.length === 0) return <a class="alarm-line" href="#cautions">{CAUTION}</a>;
  const first = reached.find((d) => d.name === cautions.first_detector) ?? reached[0];
  return <a class="alarm-line" href="#cautions"><b>Expect an alarm in the {first.room}{first.reached_min !== null ? ` ${fromAbout(first.reached_min, start)}` : ''}.</b> Have the system isolated by whoever is responsible for it, with a fire watch, before any haze.</a>;
}

function Spine({ model, rows, children }) {
  const box = useRef(null), [fell, setFell] = useState([]);
  const { dwell, cautions } = model.answers;
  useLayoutEffect(() => {
    const measure = () => {
      const top = box.current.getBoundingClientRect();
      setFell([...box.current.querySelectorAll('li')].map((li, i) => { const b = li.getBoundingClientRect(); return { from: rows[i]?.from, to: rows[i]?.to, y: b.top - top.top, h: b.height }; }));
    };
    measure();
    const see = new ResizeObserver(measure);
    see.observe(box.current);
    return () => see.disconnect();
  }, [rows]);
  const room = dwell.shots[0]?.room, others = dwell.rooms.map((r) => r.name).filter((n) => n !== room);
  const most = Math.max(...dwell.rooms.map((r) => r.peak_per_m ?? 0), ...alarmsOf(cautions).filter((a) => a.room === room && a.reached).map((a) => a.per_m), 0.005);
  const end = Math.ceil(most * 1.12 / 0.01) * 0.01;
  const X = (k) => LEFT + Math.min(1, k / end) * (WIDE - LEFT);
  const Y = (m) => { const r = fell.find((q) => m <= q.to) ?? fell.at(-1); return r ? r.y + Math.min(1, Math.max(0, (m - r.from) / (r.to - r.from))) * r.h : 0; };
  const height = fell.length ? fell.at(-1).y + fell.at(-1).h : 0, last = rows.at(-1)?.to ?? 0;
  const curve = dwell.curve.filter((c) => c.min <= last);
  const line = (n) => curve.map((c, i) => `${i ? 'L' : 'M'}${X(c.extinction_per_m[n]).toFixed(1)} ${Y(c.min).toFixed(1)}`).join('');
  const alarm = alarmsOf(cautions).filter((a) => a.room === room).sort((a, b) => a.per_m - b.per_m)[0];
  const al = alarm && X(alarm.per_m), hit = alarm && crossing(curve, room, alarm.per_m);
  const area = room && curve.length ? `${line(room)}L${LEFT} ${Y(curve.at(-1).min)}L${LEFT} ${Y(curve[0].min)}Z` : '';
  return <div class="spine" ref={box}>
    {height > 0 && room && <svg viewBox={`0 0 ${WIDE} ${height}`} role="img" aria-label={`Haze of the ${room} over the day, at most ${digits(most)} per metre${hit ? `; it reaches ${alarm.name}'s alarm at ${clock(hit, model.store.scene.start)}` : ''}`}>
      <defs><clipPath id="over"><rect x={al ?? 999} y="0" width="99" height={height} /></clipPath></defs>
      <path d={area} class="airfill" />{alarm && <path d={area} class="airover" clip-path="url(#over)" />}
      <path d={line(room)} class="airline" />
      {others.map((n) => <path key={n} d={line(n)} class="otherline" />)}
      {rows.map((r, i) => {
        const c = r.kind === 'shot' && model.answers.choices[r.shot.name]?.extinction_per_m, f = fell[i];
        if (!c || c.lowest === null || !f) return null;
        const a = X(c.lowest), z = Math.min(WIDE, X(c.highest));
        return <path key={i} class="wantline" d={`M${a} ${f.y + 5}V${f.y + f.h - 5}M${z} ${f.y + 5}V${f.y + f.h - 5}M${a} ${f.y + 9}H${z}M${a} ${f.y + f.h - 9}H${z}`} />;
      })}
      {alarm && alarm.per_m < end && <path class="alarmmark" d={`M${al} 0V${height}`} />}
      {burstsOf(dwell).map(([a, z]) => <rect key={a} x="0" y={Y(a)} width="6" height={Math.max(2.5, Y(z) - Y(a))} class="onbar" />)}
      {hit !== null && hit !== undefined && <circle class="alarmring" cx={al} cy={Y(hit)} r="5" />}
      {model.running !== null && model.running <= last && <path class="nowline" d={`M-46 ${Y(model.running)}H${WIDE}`} />}
    </svg>}
    {children}
  </div>;
}

function Gap({ row, model, alarms }) {
  const start = model.store.scene.start;
  const here = alarms.filter((a) => a.at !== null && a.at >= row.from && a.at < row.to);
  return <div class="gap">
    {row.events.map((e) => <p key={e.min}>{e.do === 'run' ? <b>Hazer on {duration(e.seconds)}</b> : e.do === 'purge' ? <b>Open the doors, fans on {duration(e.seconds)}</b> : e.do === 'warm_up' ? `Warm up ${duration(e.seconds)}` : `Wait ${duration(e.seconds)} to mix`}</p>)}
    {row.clear && <><p><b>Hazer off for good</b></p><p>{row.clear.purged ? 'Doors open, fans on' : 'Left to clear'}, {Math.round(row.clear.minutes)} min</p><p>{clock(row.to, start)} clear</p></>}
    {here.map((a) => <p class="al" key={a.name}>{fromAbout(a.at, start)} expect an alarm: {a.name}</p>)}
  </div>;
}

function ShotRow({ row, model, alarms }) {
  const s = row.shot, small = model.pictures.small[s.name], k = s.extinction_per_m, missed = model.answers.choices[s.name]?.planned?.wants?.filter((w) => !w.met) ?? [];
  const every = s.hold?.burst_s > 0 ? (s.hold.in_a_reset > 1 ? `Hold: ${duration(s.hold.burst_s)}, ${s.hold.in_a_reset} times in each reset.` : `Hold: ${duration(s.hold.burst_s)} every ${duration(s.hold.every_s)}.`) : '';
  const here = alarms.filter((a) => a.at !== null && a.at >= row.from && a.at < row.to);
  return <a class="shot" href="#look" aria-current={row.index === model.shot ? 'true' : undefined} onClick={() => model.showShot(row.index)}>
    <h2>{s.name}</h2>
    {small ? <div class="thumb"><Picture picture={small} label="" /></div> : null}
    <p class="thick"><b>{hazeWord(k)}</b>{k > 0 && <>, visibility <span class="nb">{lengthWords(visibility(k), model.units)}</span></>}</p>
    <p class="quiet">Roll {duration(60 * (s.end_min - s.start_min))}. {every}</p>
    {missed.length > 0 && <p class="miss">{missed.length === 1 ? 'One want missed' : `${missed.length} wants missed`}: {missed.map((w) => w.says).join('; ')}</p>}
    {s.troubles.length > 0 && <p class="miss">{s.troubles.map((t) => troubleWords[t] ?? t).join('; ')}</p>}
    {here.map((a) => <p class="miss" key={a.name}>{fromAbout(a.at, model.store.scene.start)} expect an alarm: {a.name}</p>)}
  </a>;
}

function Order({ model, close }) {
  const names = namesOf(model.store.scene, 'shots'), [answer, setAnswer] = useState(null), [progress, setProgress] = useState('');
  const end = model.answers.dwell?.shots?.at(-1)?.end_min, held = useRef(null);
  const go = (from, to) => to >= 0 && to < names.length && model.store.change(`${names[from]} moved`, (s) => reorder(s, from, to));
  const find = async () => { setProgress('Working out every shot'); setAnswer(await model.chooseAll((n, of) => setProgress(`Working out every shot: ${n} of ${of} steps`))); setProgress(''); };
  const dropOn = (e) => { const li = document.elementFromPoint(e.clientX, e.clientY)?.closest('[data-row]'); if (li && held.current !== null && Number(li.dataset.row) !== held.current) { go(held.current, Number(li.dataset.row)); held.current = Number(li.dataset.row); } };
  return <div class="order" role="region" aria-label="Order of the day">
    <ol>{names.map((n, i) => <li key={n} data-row={i}><span class="drag" aria-hidden="true" onPointerDown={(e) => { held.current = i; e.currentTarget.setPointerCapture(e.pointerId); }} onPointerMove={(e) => held.current !== null && dropOn(e)} onPointerUp={() => { held.current = null; }} onPointerCancel={() => { held.current = null; }}>≡</span><span>{n}</span>
      <button disabled={i === 0} aria-label={`${n} earlier`} onClick={() => go(i, i - 1)}>Up</button><button disabled={i === names.length - 1} aria-label={`${n} later`} onClick={() => go(i, i + 1)}>Down</button></li>)}</ol>
    {Number.isFinite(end) && <p role="status">The last shot is cut at {clock(end, model.store.scene.start)}{model.answers.dwell.shots.some((s) => s.before_its_turn.length) ? '; a shot stands before one it must come after' : ''}.</p>}
    {answer && <p>{answer.saved_min > 0.5 ? <>Waits least: <b>{answer.order.join(', ')}</b>. It saves {Math.round(answer.saved_min)} min of waiting.</> : 'This order waits least.'}</p>}
    {progress && <p class="small quiet" role="status">{progress}</p>}
    <div class="acts">{answer?.saved_min > 0.5 ? <button class="main-act" onClick={() => { model.store.change('took the order that waits least', (s) => orderBy(s, answer.order, nameOf)); setAnswer(null); }}>Use that order</button>
      : <button onClick={find} disabled={Boolean(progress)}>Find the order that waits least</button>}<button onClick={close}>Done</button></div>
  </div>;
}

export function Day({ model }) {
  const { scene } = model.store, { dwell, cautions } = model.answers, [ordering, setOrdering] = useState(false), [editing, setEditing] = useState(false);
  const rows = model.rows, start = scene.start, last = rows.at(-1)?.to;
  const alarms = dwell?.curve ? alarmsOf(cautions).filter((a) => a.reached) : [];
  const shots = scene.shots?.length ?? 0;
  return <section class="screen" id="day" aria-labelledby="h-day">
    <header><h1 id="h-day" tabindex="-1">The day</h1>{rows.length > 0 && <p class="quiet sum-day">{clock(0, start)} to {clock(last, start)}<br />{dwell.fluid_ml !== undefined ? `${digits(dwell.fluid_ml)} ml of fluid` : ''}</p>}</header>
    <AlarmLine model={model} />
    <div class="acts first"><a class="btn" href="#clock">Clock</a><a class="btn" href="#card">Card reading</a></div>
    {shots === 0 && <div class="nothing"><p>No shots yet. What does the camera see?</p><div class="acts">{namesOf(scene, 'cameras').map((c) => <button class="main-act" key={c} onClick={() => model.addShot(c)}>Make a shot of camera {c}</button>)}{!scene.cameras?.length && <a class="btn main-act" href="#place">Add a camera in the place</a>}</div></div>}
    {dwell?.no_plan && shots > 0 && <><p class="nothing">{dwell.no_plan === 'no hazer' || !scene.hazer ? 'Without a hazer nobody can say when the haze is there: add one in the place. These are the shots and what they want.' : `No plan: ${dwell.no_plan}.`}</p>
      <ol class="plain-shots">{namesOf(scene, 'shots').map((n, i) => <li key={n}><a class="shot" href="#look" aria-current={i === model.shot ? 'true' : undefined} onClick={() => model.showShot(i)}><h2>{n}</h2></a></li>)}</ol></>}
    {rows.length > 0 && <>
      <div class="axis" aria-hidden="true"><span /><span class="scale"><i style={{ left: 0 }}>haze</i></span><span /></div>
      <Spine model={model} rows={rows}><ol>{rows.map((row) => <li key={row.kind + row.from}><time>{clock(row.from, start)}</time>{row.kind === 'gap' ? <Gap row={row} model={model} alarms={alarms} /> : <ShotRow row={row} model={model} alarms={alarms} />}</li>)}</ol></Spine>
      <p class="key" aria-hidden="true"><span><svg viewBox="0 0 22 12"><rect width="22" height="12" class="airfill" /><path d="M0 1h22" class="airline" /></svg>{dwell.shots[0].room}</span>{dwell.rooms.length > 1 && <span><svg viewBox="0 0 22 12"><path d="M0 6h22" class="otherline" /></svg>other rooms</span>}<span><svg viewBox="0 0 22 12"><path d="M1 1v10M21 1v10M1 6h20" class="wantline" /></svg>wanted</span><span><svg viewBox="0 0 22 12"><rect width="6" height="12" class="onbar" /></svg>hazer on</span>{alarms.length > 0 && <span><svg viewBox="0 0 22 12"><path d="M11 0v12" class="alarmmark" /></svg>alarm</span>}</p>
      <p class="small quiet">Time runs down. Short waits are drawn longer, so that they can be read.</p></>}
    {shots > 0 && <>{ordering ? <Order model={model} close={() => setOrdering(false)} /> : editing ? <ShotForm model={model} close={() => setEditing(false)} />
      : <div class="acts">{shots > 1 && <button onClick={() => setOrdering(true)}>Change order</button>}<button onClick={() => setEditing(true)}>Change {model.shotName}</button>
        {namesOf(scene, 'cameras').map((c) => <button key={c} onClick={() => model.addShot(c)}>Add a shot of camera {c}</button>)}</div>}</>}
    {shots > 0 && model.good && <Paper model={model} />}
  </section>;
}
