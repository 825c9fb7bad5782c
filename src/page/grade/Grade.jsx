// SPDX-License-Identifier: GPL-3.0-or-later
// The grade that takes haze off a shot at one place: what it costs in a sentence, its numbers to dial, and
// files to hand on.
import { useEffect, useState } from 'preact/hooks';
import { Picture } from '../look/Look.jsx';
import { Choice, Field } from '../shell/Field.jsx';
import { handOver } from '../shell/files.js';
import { namesOf } from '../state/scene.js';
import { digits } from '../state/units.js';
import { CURVES } from '../state/words.js';

const four = (v) => v.toFixed(4).replace('-', '−');

function useGrade(model, at, share) {
  const [told, setTold] = useState(null), has = model.things('points').length > 0, key = JSON.stringify([model.good, model.shotName, at, share, has]);
  useEffect(() => {
    if (!model.good || !has || !(share > 0 && share <= 100)) { setTold(null); return undefined; }
    let live = true;
    const timer = setTimeout(async () => {
      const options = [`shot=${model.shotName}`, 'cdl=grade.cdl', 'clf=grade.clf', `recover=${share / 100}`];
      if (at) options.push(`at=${at}`);
      const answer = await model.ask('grade', options, ['grade.cdl', 'grade.clf']);
      if (live && answer) setTold(answer);
    }, 150);
    return () => { live = false; clearTimeout(timer); };
  }, [key]);
  return told;
}

function largest(g) {
  const worst = g.others.filter((o) => o.error_stops !== null).sort((a, b) => Math.abs(b.error_stops) - Math.abs(a.error_stops))[0];
  return worst && Math.abs(worst.error_stops) >= 0.05 ? worst : null;
}
function Costs({ g }) {
  const worst = largest(g);
  return <p class="big-sentence">{worst ? <>At {worst.point} it comes out <b class="nb">{digits(Math.abs(worst.error_stops))} stop</b> too {worst.error_stops > 0 ? 'bright' : 'dark'}: this grade is for the depth of {g.point}. </> : 'No other place of the shot is off by a twentieth of a stop. '}
    Noise in the blacks rises <b class="nb">{digits(g.noise_stops)} stop</b>, and <b class="nb">{g.latitude_left_stops.toFixed(1)} stops</b> of latitude are left.</p>;
}

function Numbers({ g }) {
  const [form, setForm] = useState('cdl'), cdl = form === 'cdl', set = cdl ? g.cdl : g.linear;
  return <><div class="pick" role="group" aria-label="Numbers for"><button aria-pressed={cdl} onClick={() => setForm('cdl')}>CDL in {CURVES[g.cdl.curve] ?? g.cdl.curve}</button><button aria-pressed={!cdl} onClick={() => setForm('linear')}>Linear light</button></div>
    <table class="dial"><caption class="vh">Numbers to dial, {cdl ? `in ${CURVES[g.cdl.curve] ?? g.cdl.curve}` : 'in linear light'}</caption><thead><tr><td /><th scope="col">Slope</th><th scope="col">Offset</th>{cdl && <th scope="col">Power</th>}</tr></thead><tbody>
      {['R', 'G', 'B'].map((b, i) => <tr key={b}><th scope="row">{b}</th><td>{four(set.slope[i])}</td><td>{four(set.offset[i])}</td>{cdl && <td>{four(set.power[i])}</td>}</tr>)}
      {cdl && <tr><th scope="row" colSpan={3}>Saturation</th><td>{four(g.cdl.saturation)}</td></tr>}</tbody></table>
    {cdl ? <p class="small quiet">The nearest CDL: {g.cdl.mean_stops.toFixed(2)} stop off on average, {g.cdl.worst_stops.toFixed(2)} at worst. The CLF is exact.</p> : <p class="small quiet">Exact at the depth of {g.point}: light times slope, plus offset.</p>}</>;
}

function Halves({ model, g }) {
  const { now, graded } = model.pictures;
  useEffect(() => { model.pictures.wantGraded(g.linear); }, [g, now]);
  if (!now || now.shot !== model.shot) return null;
  return <div class="halves"><figure><Picture picture={now} label="The shot with its haze" /><figcaption>as shot</figcaption></figure><figure>{graded?.shot === model.shot && <Picture picture={graded} label="The shot graded" />}<figcaption>graded</figcaption></figure></div>;
}

export function Grade({ model }) {
  const { scene } = model.store, points = namesOf(scene, 'points', model.shot), [pick, setPick] = useState({}), [share, setShare] = useState(100);
  const at = points.includes(pick[model.shotName]) ? pick[model.shotName] : undefined, told = useGrade(model, at, share), g = told?.answer, [handed, setHanded] = useState('');
  const name = (ext) => `${model.shotName.replace(/[^\w-]+/g, '-')}.${ext}`;
  const give = (file, ext) => { handOver(name(ext), told.written[file], 'application/xml'); setHanded(`${name(ext)} was handed to the browser.`); };
  return <section class="screen" id="grade" aria-labelledby="h-grade">
    <header><div><h1 id="h-grade" tabindex="-1">The grade</h1><p class="quiet small">{model.shotName}{g ? `, ${share === 100 ? 'all' : `${digits(share, 3)} %`} of the haze at ${g.point} taken out` : ''}</p></div></header>
    {points.length === 0 && <p>A grade takes the haze off one depth. Tap a place in <a href="#look">the look</a> first.</p>}
    {told && !g && <p class="err" role="alert">{told.said}</p>}
    {points.length > 0 && <div class="fields two"><Field label="Take out" kind="number" unit="%" value={share} error={share > 0 && share <= 100 ? '' : 'must be over 0 and at most 100'} onSet={setShare} />
      <Choice label="at" options={points.map((p) => [p, p])} value={at ?? g?.point ?? points[0]} onSet={(v) => setPick({ ...pick, [model.shotName]: v })} /></div>}
    {g && <><Halves model={model} g={g} />
      <Costs g={g} /><Numbers g={g} />
      <div class="acts"><button class="main-act" disabled={!told.written['grade.cdl']} onClick={() => give('grade.cdl', 'cdl')}>Download CDL</button><button disabled={!told.written['grade.clf']} onClick={() => give('grade.clf', 'clf')}>Download CLF</button></div>
      {handed && <p class="small" role="status">{handed}</p>}
      {g.others.length > 0 && <table class="rows"><caption>Other places after this grade</caption><thead><tr><th scope="col">Place</th><th scope="col">Light</th><th scope="col">Contrast</th></tr></thead><tbody>
        {g.others.map((o) => <tr key={o.point}><th scope="row">{o.point}</th><td>{o.error_stops === null ? 'hidden' : Math.abs(o.error_stops) < 0.05 ? 'right' : `${digits(Math.abs(o.error_stops))} stop too ${o.error_stops > 0 ? 'bright' : 'dark'}`}</td><td>{o.contrast === null || o.contrast === undefined ? '' : Math.abs(o.contrast - 1) < 0.03 ? 'right' : o.contrast < 1 ? 'haze left' : 'too much taken out'}</td></tr>)}</tbody></table>}</>}
  </section>;
}
