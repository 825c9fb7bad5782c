// SPDX-License-Identifier: GPL-3.0-or-later
// A black and white card read on the set: four numbers, by meter or tapped in two photos, and what they
// change in the plan.
import { useEffect, useState } from 'preact/hooks';
import { Choice, Field } from '../shell/Field.jsx';
import { namesOf } from '../state/scene.js';
import { clock, digits, duration, lengthWords } from '../state/units.js';
import { hazeWord, visibility } from '../state/words.js';
import { verdictOf } from './card.js';
import { CardPhotos } from './CardPhotos.jsx';

const EMPTY = { cw: undefined, cb: undefined, hw: undefined, hb: undefined };

export function Card({ model }) {
  const { scene } = model.store, rooms = namesOf(scene, 'rooms'), [four, setFour] = useState(EMPTY), [where, setWhere] = useState({ distance: 6, lit: 0, room: undefined, min: undefined });
  const [told, setTold] = useState(null), [used, setUsed] = useState('');
  const room = where.room ?? model.roomOfShot() ?? rooms[0], min = where.min ?? (model.running !== null ? Math.round(model.running * 10) / 10 : Math.round(10 * (model.answers.dwell?.shots?.[model.shot]?.start_min ?? 0)) / 10);
  const full = Object.values(four).every((v) => Number.isFinite(v));
  const reading = { min: Math.max(0, Number(min.toFixed(2))), room, distance_m: where.distance, lit_from_m: where.lit, clear: { white: four.cw, black: four.cb }, hazed: { white: four.hw, black: four.hb } };
  const index = scene.readings?.length ?? 0, text = JSON.stringify([full && reading, model.good]);
  useEffect(() => {
    if (!full || !model.good) { setTold(null); return undefined; }
    let live = true;
    const withIt = JSON.stringify({ ...JSON.parse(model.good), readings: [...(scene.readings ?? []), reading] });
    (async () => {
      const faults = await model.core.ask('check', { scene: withIt });
      const ask = (options, written) => model.core.ask('run', { command: 'reading', scene: withIt, options, written });
      const fitted = faults.length ? null : await ask(['write=out.json'], ['out.json']);
      const answer = fitted && !fitted.answer ? await ask([], []) : fitted; // nothing to be fitted: the reading alone
      if (live) setTold({ faults, answer });
    })().catch((e) => live && setTold({ faults: [{ where: '', text: e.message }] }));
    return () => { live = false; };
  }, [text]);
  const fault = (key) => told?.faults?.find((f) => f.where.startsWith(`/readings/${index}/${key}`))?.text;
  const whole = told?.faults?.find((f) => !/\/(clear|hazed|distance_m|lit_from_m|min)/.test(f.where))?.text;
  const mine = told?.answer?.answer?.readings?.at(-1);
  const { unsure, sure, usable, topUp } = mine ? verdictOf(mine, told.answer.answer.top_up) : {};
  const put = (key) => (v) => setFour({ ...four, [key]: v });
  const use = () => {
    const written = told.answer.written['out.json'];
    model.store.replace('used a card reading', written ? JSON.parse(written) : { ...scene, readings: [...(scene.readings ?? []), reading] });
    setFour(EMPTY);
    setUsed(written ? 'The plan now follows the card.' : 'The reading is kept; it changes nothing in the plan.');
  };
  return <section class="screen" id="card" aria-labelledby="h-card">
    <header><div><h1 id="h-card" tabindex="-1">Card reading</h1><p class="quiet small">{room}, {clock(min, scene.start)}</p></div><a class="btn" href="#day">Close</a></header>
    <div class="four"><span /><span class="col">Before haze</span><span class="col">With haze</span>
      <span class="patch w" aria-hidden="true" /><Field label="White before" kind="number" unit="nits" value={four.cw} error={fault('clear/white')} onSet={put('cw')} /><Field label="White with haze" kind="number" unit="nits" value={four.hw} error={fault('hazed/white')} onSet={put('hw')} />
      <span class="patch k" aria-hidden="true" /><Field label="Black before" kind="number" unit="nits" value={four.cb} error={fault('clear')} onSet={put('cb')} /><Field label="Black with haze" kind="number" unit="nits" value={four.hb} error={fault('hazed')} onSet={put('hb')} /></div>
    <div class="fields"><Field label="Camera to card" kind="length" lengths={model.units} value={where.distance} error={fault('distance_m')} onSet={(v) => setWhere({ ...where, distance: v })} />
      <Field label="Its lamp to card" kind="length" lengths={model.units} value={where.lit} error={fault('lit_from_m')} onSet={(v) => setWhere({ ...where, lit: v })} />
      {rooms.length > 1 && <Choice label="Read in" options={rooms.map((r) => [r, r])} value={room} onSet={(v) => setWhere({ ...where, room: v })} />}
      <Field label="Read at minute" kind="number" unit="min" value={min} error={fault('min')} onSet={(v) => setWhere({ ...where, min: v })} /></div>
    <CardPhotos onFour={setFour} />
    {whole && <p class="err" role="alert">{whole}</p>}
    <div class="result" aria-live="polite">
      {!full && <p class="quiet">Four numbers, from one meter at one place: the result stands here.</p>}
      {mine && <>
        <p class="quiet small">The card says</p><p class="n">{hazeWord(mine.extinction_per_m)}</p>
        <p>{mine.extinction_per_m.toFixed(4)} /m{mine.extinction_per_m > 0 ? `, visibility ${lengthWords(visibility(mine.extinction_per_m), model.units)}` : ''}, give or take {Number.isFinite(unsure) ? `${digits(100 * unsure)} %` : 'all of it'}{mine.planned_per_m !== null && mine.planned_per_m !== undefined ? `; the plan has ${mine.planned_per_m.toFixed(4)} /m` : ''}.</p>
        {!sure && <p class="miss">Unsure by {Number.isFinite(unsure) ? `${digits(100 * unsure)} %` : 'more than it says'}: read again{mine.card_for_20_percent_m ? `, the card ${lengthWords(mine.card_for_20_percent_m, model.units)} away` : ', further away or with a finer meter'}.</p>}
        {topUp && <p><b>Top up: hazer on {duration(topUp.run_s)}</b> at {clock(topUp.at_min, scene.start)} for {topUp.shot}.</p>}
        <div class="acts">{usable && <button class={sure ? 'main-act' : ''} onClick={use}>Use it</button>}<button class={sure ? '' : 'main-act'} onClick={() => setFour({ ...four, hw: undefined, hb: undefined })}>Read again</button></div></>}
      {told?.answer && !mine && <p class="err" role="alert">{told.answer.said || 'No haze can be read from these four.'}</p>}
      {used && <p role="status">{used} <button class="plain" onClick={() => { model.store.undo(); setUsed(''); }}>Undo</button></p>}
    </div>
  </section>;
}
