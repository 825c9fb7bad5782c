// SPDX-License-Identifier: GPL-3.0-or-later
// The place: the drawing, what is chosen in it with its numbers, and what can be added.
import { useState } from 'preact/hooks';
import { Choice, Field, Text, Tick } from '../shell/Field.jsx';
import { textOf } from '../shell/files.js';
import { listOf, litIn, nameOf, namesOf, pointerOf, rename } from '../state/scene.js';
import { kindWord } from '../state/words.js';
import { WHAT_IS_THERE } from './add.js';
import { fieldsOf } from './fields.js';
import { placeOf } from './geometry.js';
import { Plan } from './Plan.jsx';

const GROUPS = ['rooms', 'openings', 'lights', 'cameras', 'figures', 'blockers', 'hazer', 'points', 'detectors'];
const TITLES = { rooms: 'Rooms', openings: 'Openings', lights: 'Lights', cameras: 'Cameras', figures: 'People', blockers: 'Solids and nets', hazer: 'Hazers', points: 'Places to look at', detectors: 'Smoke detectors' };

function Chosen({ model }) {
  const { scene } = model.store, ref = model.selected, unit = model.units;
  const item = ref && listOf(scene, ref.kind, ref.shot ?? model.shot)[ref.index];
  if (!item) return <p class="quiet">Touch a thing in the drawing to see its numbers, or add what is there.</p>;
  const name = nameOf(item, ref.kind, ref.index), pointer = pointerOf(scene, { ...ref, shot: ref.shot ?? model.shot });
  const at = (path) => model.faultAt(`${pointer}/${path.join('/')}`);
  const change = (label, edit) => model.store.change(label, (s) => edit(s, listOf(s, ref.kind, ref.shot ?? model.shot)[ref.index]), `field:${pointer}:${label}`);
  const lit = ref.kind === 'lights' && scene.shots?.length > 0 && litIn(scene, model.shot).includes(name);
  return <div class="chosen" key={pointer}>
    <h2>{name}</h2>
    <p class="quiet">{kindWord(ref.kind, item)}{ref.kind === 'lights' && scene.shots?.length ? (lit ? `, burns in ${model.shotName}` : `, off in ${model.shotName}`) : ''}</p>
    {model.faultAt(pointer, true) && <p class="err" role="alert">{model.faultAt(pointer, true)}</p>}
    <div class="fields">
      {ref.kind !== 'hazer' && <Text label="Name" value={name} error={at(['name'])} onSet={(v) => change('renamed ' + name, (s) => rename(s, ref.kind, ref.index, v, ref.shot ?? model.shot))} />}
      {fieldsOf(scene, { ...ref, shot: ref.shot ?? model.shot }).map((f) => {
        const set = (v) => change(`${name}: ${f.label}`, (s, it) => f.set(s, it, v));
        const more = { label: f.label, error: at(f.path), onSet: set };
        if (f.kind === 'choice') return <Choice key={f.label} {...more} options={f.options} value={f.get(scene, item)} />;
        if (f.kind === 'flag') return <Tick key={f.label} label={f.label} value={f.get(scene, item)} onSet={(v) => set(v ? undefined : false)} />;
        return <Field key={f.label} {...more} kind={f.kind} unit={f.unit} lengths={unit} optional={f.optional} hint={f.hint} value={f.get(scene, item)} />;
      })}
    </div>
    {item.kind === 'photometry' && <LampFile model={model} item={item} error={at(['file'])} onSet={(name) => change(`${item.name}: its file`, (sc, it) => { it.file = name; })} />}
    <div class="acts">
      {ref.kind === 'lights' && scene.shots?.length > 0 && <button onClick={() => model.burn(name, !lit)}>{lit ? 'Off in this shot' : 'Burn in this shot'}</button>}
      <button onClick={() => model.remove(ref)}>Take away</button>
    </div>
  </div>;
}

// A lamp's own LM-63 file, as its maker gives it out.
function LampFile({ model, item, error, onSet }) {
  const [why, setWhy] = useState('');
  const pick = async (e) => {
    const input = e.currentTarget, [file] = input.files, { text, why: no } = file ? await textOf(file) : {};
    input.value = '';
    setWhy(no ? `${file.name} cannot be opened: ${no}.` : '');
    if (text === undefined) return;
    model.addLamp(file.name, text);
    onSet(file.name);
  };
  return <div class={`f wide ${why || error ? 'bad' : ''}`}><span class="lab">Its light, measured</span>
    <Choice label="From the file" wide options={Object.keys(model.lamps).map((n) => [n, n])} value={item.file} onSet={onSet} />
    <div class="acts"><label class="btn file-act">Open its LM-63 file<input type="file" accept=".ies,text/plain" onChange={pick} /></label></div>
    {(why || error) && <p class="err" role="alert">{why || error}</p>}</div>;
}

function Add({ model, close }) {
  const groups = [...new Set(WHAT_IS_THERE.map(([g]) => g))];
  const [why, setWhy] = useState('');
  const add = (entry) => {
    const [, words, make, reason] = entry;
    const near = model.selected && placeOf(model.store.scene, { ...model.selected, shot: model.shot });
    let ref = null;
    model.store.change(`added ${words.toLowerCase()}`, (s) => { ref = make(s, near ?? model.roomMiddle(), model.shot); });
    if (!ref) return setWhy(`This cannot be added yet: ${reason}.`);
    model.select(ref);
    close();
    if (innerWidth < 1160) document.getElementById('place').scrollIntoView(); // where it was put
    return undefined;
  };
  return <div class="add" role="region" aria-label="Add what is there">
    {groups.map((g) => <div key={g}><h3>{g}</h3><div class="chips">{WHAT_IS_THERE.filter(([q]) => q === g).map((entry) => <button key={entry[1]} onClick={() => add(entry)}>{entry[1]}</button>)}</div></div>)}
    {why && <p class="err" role="alert">{why}</p>}
  </div>;
}

export function Place({ model }) {
  const { scene } = model.store, [adding, setAdding] = useState(false);
  const { undoLabel, redoLabel } = model.store, at = model.selected, chosen = at && listOf(scene, at.kind, at.shot ?? model.shot)[at.index];
  return <section class="screen" id="place" aria-labelledby="h-place">
    <header><h1 id="h-place" tabindex="-1">The place</h1>
      <div class="pair"><button disabled={!undoLabel} aria-label={undoLabel ? `Undo: ${undoLabel}` : 'Undo'} title={undoLabel ? `Undo: ${undoLabel}` : undefined} onClick={() => model.store.undo()}>Undo</button>
        <button disabled={!redoLabel} aria-label={redoLabel ? `Redo: ${redoLabel}` : 'Redo'} onClick={() => model.store.redo()}>Redo</button></div></header>
    <Plan model={model} />
    {chosen && !adding && <Chosen model={model} />}
    <div class="acts first"><button class={adding || chosen ? '' : 'main-act'} aria-expanded={adding} onClick={() => setAdding(!adding)}>{adding ? 'Add nothing' : 'Add what is there'}</button></div>
    {adding && <Add model={model} close={() => setAdding(false)} />}
    {(adding || !chosen) && <Chosen model={model} />}
    <details class="all"><summary>All that is here</summary>
      {GROUPS.map((kind) => { const names = namesOf(scene, kind, model.shot); return names.length > 0 && <div key={kind}><h3>{TITLES[kind]}</h3><div class="chips">
        {names.map((name, index) => <button key={name} aria-pressed={model.selected?.kind === kind && model.selected.index === index} onClick={() => model.select({ kind, index, shot: model.shot })}>{name}</button>)}</div></div>; })}
    </details>
  </section>;
}
