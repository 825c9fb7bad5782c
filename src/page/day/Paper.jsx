// SPDX-License-Identifier: GPL-3.0-or-later
// The day on paper: the sheet that `veilstop sheet` writes, by the same core, printed from here or kept as a
// file. The page's own policy paints no style that it does not know, so the sheet's is handed over as such.
import { useState } from 'preact/hooks';
import { handOver, nameFor } from '../shell/files.js';

// A frame beside the page that holds the sheet and nothing else.
function layOut(html) {
  const styles = [], bare = html.replace(/<style>([\s\S]*?)<\/style>/g, (_, text) => { styles.push(text); return ''; }).replace(/(<[^<>]*?) style="/g, '$1 data-style="');
  const parsed = new DOMParser().parseFromString(bare, 'text/html'), frame = document.createElement('iframe');
  document.querySelector('iframe.paper')?.remove();
  frame.className = 'paper';
  frame.title = 'The day on paper';
  frame.ariaHidden = 'true';
  frame.tabIndex = -1;
  document.body.append(frame);
  const { contentDocument: there, contentWindow: view } = frame, style = new view.CSSStyleSheet();
  style.replaceSync(styles.join('\n'));
  there.adoptedStyleSheets = [style];
  there.title = parsed.title;
  there.documentElement.lang = parsed.documentElement.lang;
  there.body.replaceWith(there.adoptNode(parsed.body));
  there.querySelectorAll('[data-style]').forEach((e) => { e.style.cssText = e.dataset.style; });
  return view;
}
const ready = (view) => Promise.all([...view.document.images].map((i) => i.decode().catch(() => {})));

export function Paper({ model }) {
  const [progress, setProgress] = useState(''), [why, setWhy] = useState('');
  const make = async (use) => {
    setProgress('Drawing and working out the day');
    const told = await model.sheet((done, of) => setProgress(`Drawing and working out the day: ${done} of ${of}`));
    setProgress('');
    const html = told?.written['day.html'];
    setWhy(html ? '' : told?.said || 'The day could not be put on paper.');
    if (html) await use(html);
  };
  const print = () => make(async (html) => { const view = layOut(html); await ready(view); view.focus(); view.print(); });
  const keep = () => make((html) => handOver(nameFor(model.store.scene.title).replace(/\.json$/, '.html'), html, 'text/html'));
  return <div class="paperacts"><h2>On paper</h2>
    <p class="small quiet">Shots, run sheet, place, card and cautions for the crew; a page for the venue.</p>
    <div class="acts"><button disabled={Boolean(progress)} onClick={print}>Print the day</button><button disabled={Boolean(progress)} onClick={keep}>Save the day’s sheet</button></div>
    {progress && <p class="small quiet" role="status">{progress}</p>}
    {why && <p class="err" role="alert">{why}</p>}
  </div>;
}
