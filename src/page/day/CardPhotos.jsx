// SPDX-License-Identifier: GPL-3.0-or-later
// The four numbers out of two photos of the card, taken with the same exposure: white and black tapped in
// each. Only their ratio counts, so a photo's own linear light will do.
import { useRef, useState } from 'preact/hooks';
import { patchLight } from './photo.js';

const STEPS = [['cw', 'before', 'the white patch before haze'], ['cb', 'before', 'the black patch before haze'], ['hw', 'after', 'the white patch with haze'], ['hb', 'after', 'the black patch with haze']];

async function load(file) {
  const bitmap = await createImageBitmap(file), scale = Math.min(1, 1600 / Math.max(bitmap.width, bitmap.height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.round(bitmap.width * scale);
  canvas.height = Math.round(bitmap.height * scale);
  canvas.getContext('2d').drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  bitmap.close();
  return canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
}

export function CardPhotos({ onFour }) {
  const [photos, setPhotos] = useState({}), [got, setGot] = useState({}), [why, setWhy] = useState(''), canvas = useRef(null);
  const step = STEPS.find(([key]) => got[key] === undefined), showing = step && photos[step[1]];
  const pick = (which) => async (e) => {
    const [file] = e.currentTarget.files;
    try { setPhotos({ ...photos, [which]: await load(file) }); setWhy(''); setGot({}); } catch { setWhy(`${file?.name ?? 'This file'} is no picture that this browser reads. Nothing has changed.`); }
  };
  const draw = (c) => { canvas.current = c; if (c && showing) { c.width = showing.width; c.height = showing.height; c.getContext('2d').putImageData(showing, 0, 0); } };
  const take = (e) => {
    const r = canvas.current.getBoundingClientRect(), next = { ...got, [step[0]]: patchLight(showing, (e.clientX - r.left) / r.width, (e.clientY - r.top) / r.height) };
    setGot(next);
    if (STEPS.every(([key]) => next[key] !== undefined)) onFour(next);
  };
  return <details class="all"><summary>From two photos instead</summary>
    <p class="small quiet">Same place, same exposure, lamp and lens untouched: one before haze, one with it.</p>
    <div class="fields"><label class="file">Before haze<input type="file" accept="image/*" onChange={pick('before')} /></label><label class="file">With haze<input type="file" accept="image/*" onChange={pick('after')} /></label></div>
    {why && <p class="err" role="alert">{why}</p>}
    {photos.before && photos.after && step && <><p role="status">Tap {step[2]}.</p><canvas class="photo" ref={draw} onClick={take} aria-label={`Tap ${step[2]}`} role="img" /></>}
    {photos.before && photos.after && !step && <p role="status">Read: the four numbers stand above. <button class="plain" onClick={() => setGot({})}>Tap again</button></p>}
  </details>;
}
