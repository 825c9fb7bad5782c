// SPDX-License-Identifier: GPL-3.0-or-later
// A photo from the scout behind the look: corners of the room tapped in it tell where it was taken from, and
// then the planned haze stands in it. A grey card, or a patch that was metered, tells how it was exposed.
import { useState } from 'preact/hooks';
import { roomAt } from '../place/geometry.js';
import { place } from '../state/scene.js';
import { digits } from '../state/units.js';
import { Field } from '../shell/Field.jsx';

const ACROSS = 640;  // pixels of the photo that the look shows
const LEAST = 4;     // corners: with fewer the lens must be known
const CORNERS = ['floor', 'ceiling'].flatMap((z) => ['west', 'east'].flatMap((x) => ['south', 'north'].map((y) => [`${z}-${x}-${y}`, `${z}, ${x} and ${y}`])));

async function load(file) {
  const bitmap = await createImageBitmap(file), canvas = document.createElement('canvas'), size = { width: bitmap.width, height: bitmap.height };
  canvas.width = ACROSS;
  canvas.height = Math.round(ACROSS * bitmap.height / bitmap.width);
  canvas.getContext('2d').drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  return { ...size, image: canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height) };
}

export function Scout({ model }) {
  const { scout } = model, [why, setWhy] = useState(''), [said, setSaid] = useState(''), [corner, setCorner] = useState(CORNERS[0][0]);
  const [tapping, setTapping] = useState('corner'), [nits, setNits] = useState(undefined);
  const mine = scout?.shot === model.shotName ? scout : null, camera = model.camera, room = camera && roomAt(model.store.scene, place(model.store.scene, camera.at));
  const pick = async (e) => {
    const input = e.currentTarget, [file] = input.files;
    if (!file) return;
    try { model.setScout({ ...await load(file), shot: model.shotName, pairs: [], grey: null, shown: false }); setWhy(''); setSaid(''); setTapping('corner'); } catch { setWhy(`${file.name} is no picture that this browser reads. Nothing has changed.`); }
    input.value = '';
  };
  const draw = (c) => { if (c && mine) { c.width = mine.image.width; c.height = mine.image.height; c.getContext('2d').putImageData(mine.image, 0, 0); } };
  const tap = async (e) => {
    const r = e.currentTarget.getBoundingClientRect(), u = (e.clientX - r.left) / r.width, v = (e.clientY - r.top) / r.height;
    if (tapping === 'grey') return takeGrey({ u, v, ...(nits > 0 ? { nits } : {}) });
    const pair = { corner, u, v };
    const pairs = [...mine.pairs.filter((p) => p.corner !== corner), pair];
    model.setScout({ ...mine, pairs });
    setCorner(CORNERS.find(([key]) => !pairs.some((p) => p.corner === key))?.[0] ?? corner);
    return undefined;
  };
  const takeGrey = async (grey) => {
    const no = await model.scoutGrey(grey);
    setWhy(no ? `This patch does not tell how bright the photo is: ${no}. Tap another.` : '');
    if (no === null && !model.trouble) model.setScout({ ...mine, grey });
  };
  const meter = (value) => { setNits(value); if (mine.grey) takeGrey({ u: mine.grey.u, v: mine.grey.v, ...(value > 0 ? { nits: value } : {}) }); };
  const match = async () => {
    const pairs = mine.pairs.map((p) => `${(p.u * mine.width).toFixed(1)},${(p.v * mine.height).toFixed(1)}=corner:${p.corner}`).join('; ');
    const told = await model.ask('still', [`shot=${model.shotName}`, `size=${mine.width}x${mine.height}`, `match=${pairs}`, 'write=matched.json'], ['matched.json']);
    const written = told?.answer && told.written['matched.json'];
    setWhy(written ? '' : told?.said || 'No camera was found.');
    if (!written) return;
    model.store.replace('the camera of a photo', JSON.parse(written));
    model.setScout({ ...mine, shown: true });
    setSaid(`Camera ${told.answer.camera.name} stands where the photo was taken: ${digits(told.answer.camera.focal_mm)} mm, off by ${digits(told.answer.camera.residual_px)} pixels.`);
  };
  return <details class="all scout"><summary>On a photo from the scout</summary>
    <label class="file">A photo of this place without haze<input type="file" accept="image/*" onChange={pick} /></label>
    {why && <p class="err" role="alert">{why}</p>}
    {mine && <>
      {model.scoutNote && <p class="trouble" role="status">{model.scoutNote}</p>}
      <div class="pick" role="group" aria-label="What is tapped in the photo"><button aria-pressed={tapping === 'corner'} onClick={() => setTapping('corner')}>Corners</button><button aria-pressed={tapping === 'grey'} onClick={() => setTapping('grey')}>A grey card</button></div>
      {tapping === 'grey' && <><p class="small quiet">Tap a grey card lit as the shot will be, or a patch that you metered. Without one the photo is taken to be exposed as the shot.</p>
        <Field label="Metered (a grey card needs none)" kind="number" unit="nits" optional value={mine.grey?.nits ?? nits} onSet={meter} />
        {mine.grey && <p class="small" role="status">{mine.grey.nits ? `That patch has ${digits(mine.grey.nits, 3)} nits.` : 'That patch is a grey card: the shot shows it as middle grey.'} <button class="plain" onClick={() => { setNits(undefined); model.setScout({ ...mine, grey: null }); }}>As the shot is exposed</button></p>}</>}
      {tapping === 'corner' && <><p class="small quiet">Choose a corner of {room?.name ?? 'the room'}, then tap where the photo shows it. Four or more, near and far.</p>
      <div class="f"><label for="scout-corner">Corner</label><div class="in"><select id="scout-corner" value={corner} onChange={(e) => setCorner(e.currentTarget.value)}>{CORNERS.map(([key, words]) => <option key={key} value={key}>{words}{mine.pairs.some((p) => p.corner === key) ? ', tapped' : ''}</option>)}</select></div></div></>}
      <div class="scoutview"><canvas class="photo" ref={draw} role="img" aria-label={tapping === 'grey' ? 'Tap the grey card or the metered patch' : `Tap the corner: ${corner.replaceAll('-', ', ')}`} onClick={tap} />
        {mine.pairs.map((p) => <i key={p.corner} style={{ left: `${100 * p.u}%`, top: `${100 * p.v}%` }} />)}
        {mine.grey && <i class="square" style={{ left: `${100 * mine.grey.u}%`, top: `${100 * mine.grey.v}%` }} />}</div>
      <div class="acts"><button class="main-act" disabled={mine.pairs.length < LEAST || model.busy.has('still')} onClick={match}>{mine.pairs.length < LEAST ? `${LEAST - mine.pairs.length} more to tap` : 'Put the camera there'}</button>
        <button aria-pressed={mine.shown} onClick={() => model.setScout({ ...mine, shown: !mine.shown })}>{mine.shown ? 'Show the drawn view' : 'Show the haze in the photo'}</button>
        <button onClick={() => { model.setScout(null); setSaid(''); setWhy(''); }}>Forget this photo</button></div>
      {said && <p class="small" role="status">{said}</p>}
    </>}
  </details>;
}
