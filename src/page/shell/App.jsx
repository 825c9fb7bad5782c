// SPDX-License-Identifier: GPL-3.0-or-later
// The page's frame: what happens now above, where one can go below, and the screens between. The address
// holds the screen, so that Back works.
import { useEffect, useReducer, useState } from 'preact/hooks';
import { Cautions } from '../cautions/Cautions.jsx';
import { Card } from '../day/Card.jsx';
import { Clock, NowLine } from '../day/Clock.jsx';
import { Day } from '../day/Day.jsx';
import { Grade } from '../grade/Grade.jsx';
import { Look } from '../look/Look.jsx';
import { Place } from '../place/Place.jsx';
import { SceneSheet } from './Scene.jsx';

const SCREENS = ['day', 'look', 'place', 'grade', 'cautions', 'clock', 'card'];
const FOOT = [['day', 'Day'], ['look', 'Look'], ['place', 'Place'], ['grade', 'Grade'], ['cautions', 'Cautions']];
const here = () => (SCREENS.includes(location.hash.slice(1)) ? location.hash.slice(1) : 'day');

function useScreen() {
  const [at, setAt] = useState(here);
  useEffect(() => {
    const go = () => { setAt(here()); if (innerWidth < 1160) scrollTo(0, 0); requestAnimationFrame(() => document.getElementById('h-' + here())?.focus({ preventScroll: innerWidth < 1160 })); };
    addEventListener('hashchange', go);
    return () => removeEventListener('hashchange', go);
  }, []);
  return at;
}
function useLook(look) {
  useEffect(() => {
    const dark = matchMedia('(prefers-color-scheme: dark)');
    const set = () => { document.documentElement.dataset.look = look === 'auto' ? (dark.matches ? 'night' : 'day') : look; };
    set();
    dark.addEventListener('change', set);
    return () => dark.removeEventListener('change', set);
  }, [look]);
}

// What stands in the way of an answer: faults of the scene, lengths in another unit, a core that stopped, a
// store that is full.
function Troubles({ model }) {
  const { faults } = model;
  const words = (f) => { const [, kind, index] = f.where.split('/'); const name = model.store.scene[kind]?.[index]?.name; return `${name ?? f.where.slice(1)}: ${f.text}`; };
  return <div class="troubles">{model.trouble && <p class="trouble" role="alert">{model.trouble}</p>}
    {faults.length > 0 && <div class="trouble" role="status"><b>{faults.length === 1 ? 'One thing to mend' : `${faults.length} things to mend`}; the figures are those before it.</b>{faults.slice(0, 3).map((f, i) => <p key={i}>{words(f)}</p>)}</div>}
    {model.doubt && <p class="trouble" role="status"><b>Check the lengths.</b> {model.doubt}</p>}
    {model.note && <p class="trouble" role="status">{model.note}</p>}</div>;
}

export function App({ model, data, first }) {
  const [, redraw] = useReducer((n) => n + 1, 0), at = useScreen(), [sheet, setSheet] = useState(first), [fresh, setFresh] = useState(first);
  useEffect(() => model.subscribe(redraw), []);
  useLook(model.settings.look);
  useEffect(() => {
    const keys = (e) => {
      if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== 'z' || e.target.closest?.('input, textarea')) return;
      e.preventDefault();
      if (e.shiftKey) model.store.redo(); else model.store.undo();
    };
    addEventListener('keydown', keys);
    return () => removeEventListener('keydown', keys);
  }, []);
  const foot = { clock: 'day', card: 'day' }[at] ?? at;
  return <div class="page" data-at={at}>
    <header class="now"><p class="place">{model.store.scene.title?.split(':')[0]}</p><NowLine model={model} />
      <a class="head-caution" href="#cautions">Cautions</a><a class="btn only-desk" href="#card">Card reading</a><button class="plain" id="sceneb" aria-haspopup="dialog" onClick={() => setSheet(true)}>Scene</button></header>
    <main>
      <Troubles model={model} />
      <div class="left"><Day model={model} /></div>
      <div class="mid"><Look model={model} /><Grade model={model} /></div>
      <div class="side"><Place model={model} />
        {at === 'card' && <Card model={model} />}{at === 'cautions' && <Cautions model={model} />}{at === 'clock' && <Clock model={model} />}</div>
    </main>
    <nav class="foot" aria-label="Areas">{FOOT.map(([id, words]) => <a key={id} href={`#${id}`} class={id === 'cautions' ? 'warn' : ''} aria-current={foot === id ? 'page' : undefined}>{words}</a>)}</nav>
    <p class="vh" aria-live="polite" role="status">{model.spoken}</p>
    <SceneSheet model={model} data={data} open={sheet} first={fresh} close={() => { setSheet(false); setFresh(false); }} />
  </div>;
}
