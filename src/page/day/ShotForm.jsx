// SPDX-License-Identifier: GPL-3.0-or-later
// One shot's own figures: its name, camera, length, takes and which lamps burn.
import { Choice, Field, Text, Tick } from '../shell/Field.jsx';
import { litIn, namesOf, remove, rename } from '../state/scene.js';

export function ShotForm({ model, close }) {
  const { scene } = model.store, index = model.shot, shot = scene.shots[index], lit = litIn(scene, index), where = `/shots/${index}`;
  const change = (label, edit) => model.store.change(`${model.shotName}: ${label}`, (s) => edit(s.shots[index], s), `shot:${index}:${label}`);
  const others = namesOf(scene, 'shots').filter((n) => n !== model.shotName);
  return <div class="shotform" role="region" aria-label={`Shot ${model.shotName}`}>
    <h2>{model.shotName}</h2>
    <div class="fields">
      <Text label="Name" value={model.shotName} error={model.faultAt(`${where}/name`)} onSet={(v) => change('name', (s, all) => rename(all, 'shots', index, v))} />
      <Choice label="Camera" options={namesOf(scene, 'cameras').map((n) => [n, n])} value={shot.camera} error={model.faultAt(`${where}/camera`)} onSet={(v) => change('camera', (s) => { s.camera = v; })} />
      <Field label="Takes of the day" kind="number" unit="min" value={shot.minutes ?? 30} error={model.faultAt(`${where}/minutes`)} onSet={(v) => change('minutes', (s) => { s.minutes = v; })} />
      <Field label="Rolls for" kind="number" unit="min" optional hint="no sound" value={shot.takes?.roll_min} error={model.faultAt(`${where}/takes`)} onSet={(v) => change('takes', (s) => { if (v === undefined) delete s.takes; else s.takes = { reset_min: 5, ...s.takes, roll_min: v }; })} />
      {shot.takes && <Field label="Resets in" kind="number" unit="min" value={shot.takes.reset_min ?? 5} error={model.faultAt(`${where}/takes/reset_min`)} onSet={(v) => change('reset', (s) => { s.takes.reset_min = v; })} />}
      {others.length > 0 && <Choice label="Comes after" options={[['', 'any'], ...others.map((n) => [n, n])]} value={shot.after?.[0] ?? ''} error={model.faultAt(`${where}/after`)} onSet={(v) => change('after', (s) => { if (v) s.after = [v]; else delete s.after; })} />}
    </div>
    <fieldset class="burning"><legend>Burns in this shot</legend>{namesOf(scene, 'lights').map((n) => <Tick key={n} label={n} value={lit.includes(n)} onSet={(v) => model.burn(n, v)} />)}</fieldset>
    <div class="acts"><button class="main-act" onClick={close}>Done</button><button onClick={() => { close(); model.store.change(`took away ${model.shotName}`, (s) => remove(s, 'shots', index)); }}>Take this shot away</button></div>
  </div>;
}
