// SPDX-License-Identifier: GPL-3.0-or-later
// What a shot wants of its haze: each with its limit, and new ones made of what is in the shot.
import { useState } from 'preact/hooks';
import { Choice, Field } from '../shell/Field.jsx';
import { litIn, namesOf } from '../state/scene.js';
import { inFile, metres } from '../state/units.js';

const LIMITS = { contrast: ['lose_at_most_stops', 'stops', 'at most'], black: ['lift_at_most_percent', '%', 'at most'], beam: ['at_least_stops', 'stops', 'at least'],
  separation: ['at_least_stops', 'stops', 'at least'], sight: ['at_least_m', 'm', 'at least'], like: ['within_stops', 'stops', 'within'], glow: ['at_most_deg', '°', 'at most'] };
const sentence = (w) => ({ contrast: () => `Contrast of ${w.between?.join(' and ')} drops`, black: () => `A black at ${w.at} lifts`, beam: () => `The beam of ${w.light} stands out`,
  separation: () => `Haze sets ${w.between?.join(' off from ')}`, sight: () => 'Visibility', like: () => `The veil at ${w.at} is as in ${w.shot}`, glow: () => `The glow round ${w.light} reaches` })[w.want]?.() ?? w.want;

const NEW = {
  beam: (a) => ({ want: 'beam', light: a, at_least_stops: 0.25 }), black: (a) => ({ want: 'black', at: a, lift_at_most_percent: 9 }),
  contrast: (a, b) => ({ want: 'contrast', between: [a, b], lose_at_most_stops: 0.5 }), separation: (a, b) => ({ want: 'separation', between: [a, b], at_least_stops: 0.5 }),
  sight: () => ({ want: 'sight', at_least_m: 50 }),
};

export function Wants({ model }) {
  const { scene } = model.store, shot = scene.shots[model.shot], [adding, setAdding] = useState(null), [pick, setPick] = useState({});
  const points = namesOf(scene, 'points', model.shot);
  const lights = litIn(scene, model.shot).filter((n) => ['spot', 'sun', 'photometry'].includes((scene.lights ?? []).find((l, i) => namesOf(scene, 'lights')[i] === n)?.kind));
  const can = { beam: lights.length > 0, black: points.length > 0, contrast: points.length > 1, separation: points.length > 1, sight: true };
  const words = { beam: 'A beam that reads', sight: 'Visibility', contrast: 'Contrast kept', black: 'Blacks that stay down', separation: 'Depth between two places' };
  const a = pick.a ?? (adding === 'beam' ? lights[0] : points[0]), b = pick.b ?? points[1];
  const add = () => { model.store.change('added a want', (s) => { (s.shots[model.shot].wants ??= []).push(NEW[adding](a, b)); }); setAdding(null); setPick({}); };
  return <div class="wants"><h2>What this shot wants</h2>
    {(shot.wants ?? []).length === 0 && <p class="quiet small">Nothing yet. With a want the page finds the haze that gives it.</p>}
    {(shot.wants ?? []).map((w, i) => { const [key, unit, side] = LIMITS[w.want] ?? []; return key && <div class="want" key={i}>
      <Field label={`${sentence(w)} ${side}`} kind={w.want === 'sight' ? 'length' : 'number'} unit={unit} lengths={model.units} value={w.want === 'sight' ? metres(w[key]) : w[key]} error={model.faultAt(`/shots/${model.shot}/wants/${i}`)}
        onSet={(v) => model.store.change('changed a want', (s) => { s.shots[model.shot].wants[i][key] = w.want === 'sight' ? inFile(v) : v; }, `want${i}`)} />
      <button aria-label={`Drop: ${sentence(w)}`} onClick={() => model.store.change('dropped a want', (s) => { s.shots[model.shot].wants.splice(i, 1); })}>Drop</button></div>; })}
    {adding ? <div class="add"><div class="fields">
      {adding === 'beam' && <Choice label="Beam of" options={lights.map((n) => [n, n])} value={a} onSet={(v) => setPick({ ...pick, a: v })} />}
      {['black', 'contrast', 'separation'].includes(adding) && <Choice label={adding === 'black' ? 'Black at' : adding === 'contrast' ? 'Between' : 'Near'} options={points.map((n) => [n, n])} value={a} onSet={(v) => setPick({ ...pick, a: v })} />}
      {['contrast', 'separation'].includes(adding) && <Choice label={adding === 'contrast' ? 'and' : 'Far'} options={points.map((n) => [n, n])} value={b} onSet={(v) => setPick({ ...pick, b: v })} />}
    </div><div class="acts"><button class="main-act" onClick={add}>Want this</button><button onClick={() => setAdding(null)}>Not now</button></div></div>
      : <><p class="small quiet more">Want something more:</p><div class="chips">{Object.keys(words).map((k) => <button key={k} disabled={!can[k]} title={can[k] ? undefined : 'It needs a lamp or places in this shot'} onClick={() => { setAdding(k); setPick({}); }}>{words[k]}</button>)}</div></>}
  </div>;
}
