// SPDX-License-Identifier: GPL-3.0-or-later
// The scene as a file: opened, saved, begun anew; and how the page looks.
import { useEffect, useRef, useState } from 'preact/hooks';
import { fileText, parseScene } from '../state/scene.js';
import { filesOf, handOver, nameFor } from './files.js';
import { Text } from './Field.jsx';
import { STARTS, startScene } from '../state/starts.js';

function Pick({ label, options, value, onSet }) {
  return <><p class="dt">{label}</p><div class="pick" role="group" aria-label={label}>{options.map(([v, words]) => <button key={v} aria-pressed={value === v} onClick={() => onSet(v)}>{words}</button>)}</div></>;
}

export function SceneSheet({ model, data, open, close, first }) {
  const dialog = useRef(null), [said, setSaid] = useState(''), [wrong, setWrong] = useState([]), [starts, setStarts] = useState(first);
  useEffect(() => { if (open && !dialog.current.open) { setStarts(first); setSaid(''); setWrong([]); dialog.current.showModal(); } if (!open && dialog.current.open) dialog.current.close(); }, [open]);
  const begin = (name) => { model.take(`began with ${name}`, startScene(name, data.scenes)); close(); location.hash = '#place'; };
  const read = async (e) => {
    const input = e.currentTarget, given = await filesOf([...input.files]);
    input.value = '';
    if (given.why) { setWrong([`${given.why} Your scene is as it was.`]); return; }
    for (const [name, text] of given.lamps) model.addLamp(name, text);
    if (!given.scene) { if (given.lamps.length) setSaid(`${given.lamps.map(([name]) => name).join(', ')}: lamps may name it now.`); return; }
    const { name } = given.scene, parsed = parseScene(given.scene.text);
    if (parsed.why) { setWrong([`${name} cannot be opened: ${parsed.why}. Your scene is as it was.`]); return; }
    const missing = [...new Set((parsed.scene.lights ?? []).map((l) => l.file).filter((f) => typeof f === 'string' && model.lamps[f] === undefined))];
    const faults = await model.core.ask('check', { scene: JSON.stringify(parsed.scene) });
    if (faults.length) { setWrong([`${name} has ${faults.length === 1 ? 'a fault' : `${faults.length} faults`}. Your scene is as it was.`, ...(missing.length ? [`It names ${missing.join(', ')}: choose ${missing.length === 1 ? 'that file' : 'those files'} together with it.`] : []), ...faults.slice(0, 6).map((f) => `${f.where || 'the file'}: ${f.text}`)]); return; }
    setWrong([]);
    model.take(`opened ${name}`, parsed.scene);
    close();
  };
  const { scene } = model.store;
  return <dialog class="scene" ref={dialog} aria-labelledby="h-scene" onClose={close}>
    <h2 id="h-scene">{starts ? 'Where do you shoot?' : scene.title?.split(':')[0] ?? 'Scene'}</h2>
    {starts ? <div class="starts">{STARTS.map(([name, words]) => <button key={name} onClick={() => begin(name)}><b>{name}</b><span>{words}</span></button>)}</div>
      : <><p class="quiet">{model.note || 'Kept in this browser with every change.'}</p>
        <Text label="Title" value={scene.title ?? ''} onSet={(v) => model.store.change('title', (s) => { s.title = v; })} />
        <Pick label="Look of the page" options={[['day', 'Bright'], ['night', 'Dark'], ['auto', 'As the device']]} value={model.settings.look} onSet={(look) => model.set({ look })} />
        <Pick label="Lengths" options={[['scene', 'As the scene'], ['m', 'Metres'], ['ft', 'Feet']]} value={model.settings.units} onSet={(units) => model.set({ units })} /></>}
    <div class="acts"><label class="btn file-act">Open a scene file<input type="file" multiple accept=".json,application/json,.ies" onChange={read} /></label>
      {!starts && <><button onClick={() => { const name = nameFor(scene.title); handOver(name, fileText(scene)); setSaid(`${name} was handed to the browser. Look for it among your downloads.`); }}>Save this scene</button>
        {model.ownLamps(scene).map((name) => <button key={name} onClick={() => { handOver(name, model.lamps[name], 'text/plain'); setSaid(`${name} was handed to the browser. Keep it beside the scene.`); }}>Save {name}</button>)}
        <button onClick={() => setStarts(true)}>Start from another place</button></>}
      <button class="main-act" onClick={close}>{first ? 'Look round the cellar' : 'Done'}</button></div>
    {said && <p class="small" role="status">{said}</p>}
    {wrong.length > 0 && <div class="err" role="alert">{wrong.map((w, i) => <p key={i}>{w}</p>)}</div>}
    <p class="small quiet">veilstop {data.version}. This page loads nothing and sends nothing.</p>
  </dialog>;
}
