// SPDX-License-Identifier: GPL-3.0-or-later
// One entry with its unit: what is typed is kept as it stands, a number goes to the scene at once, and the
// core's fault for it stands under it.
import { useEffect, useId, useState } from 'preact/hooks';
import { lengthText, metres, number } from '../state/units.js';

const shown = (kind, value, unit) => {
  if (value === undefined || value === null || Number.isNaN(value)) return '';
  if (kind === 'length') return lengthText(value, unit);
  return String(Number(Number(value).toPrecision(6)));
};

export function Field({ label, kind, unit, value, lengths = 'm', error, optional, hint, onSet, wide }) {
  const id = useId(), [text, setText] = useState(null), [own, setOwn] = useState('');
  useEffect(() => { if (text === null) setOwn(''); }, [value]);
  const typed = (e) => {
    const raw = e.currentTarget.value;
    setText(raw);
    if (optional && raw.trim() === '') { setOwn(''); return onSet(undefined); }
    const v = kind === 'length' ? metres(raw, lengths) : number(raw);
    if (!Number.isFinite(v)) return setOwn(kind === 'length' ? `must be a length: 3.5, 12 ft, 12'6"` : 'must be a number');
    setOwn('');
    return onSet(v);
  };
  const why = own || error;
  return <div class={`f ${why ? 'bad' : ''} ${wide ? 'wide' : ''}`}>
    <label for={id}>{label}</label>
    <div class="in">
      <input id={id} inputMode={kind === 'length' && lengths === 'ft' ? 'text' : 'decimal'} autocomplete="off" value={text ?? shown(kind, value, lengths)} placeholder={hint}
        aria-describedby={`${id}u${why ? ` ${id}e` : ''}`} aria-invalid={why ? 'true' : undefined}
        onInput={typed} onBlur={() => { if (!own) setText(null); }} onKeyDown={(e) => { if (e.key === 'Enter') e.currentTarget.blur(); }} />
      <span id={`${id}u`}>{kind === 'length' ? (lengths === 'ft' ? 'ft' : 'm') : unit}</span>
    </div>
    {why && <p class="err" id={`${id}e`} role="alert">{why}</p>}
  </div>;
}

export function Choice({ label, options, value, error, onSet, wide }) {
  const id = useId();
  return <div class={`f ${error ? 'bad' : ''} ${wide ? 'wide' : ''}`}>
    <label for={id}>{label}</label>
    <div class="in"><select id={id} value={value} aria-describedby={error ? `${id}e` : undefined} aria-invalid={error ? 'true' : undefined} onChange={(e) => onSet(e.currentTarget.value)}>
      {options.map(([v, words]) => <option value={v} key={v}>{words}</option>)}
    </select></div>
    {error && <p class="err" id={`${id}e`} role="alert">{error}</p>}
  </div>;
}

export function Tick({ label, value, onSet, wide = true }) {
  return <label class={`tick ${wide ? 'wide' : ''}`}><input type="checkbox" checked={value} onChange={(e) => onSet(e.currentTarget.checked)} /><span>{label}</span></label>;
}

export function Text({ label, value, error, onSet, wide }) {
  const id = useId(), [text, setText] = useState(null);
  return <div class={`f ${error ? 'bad' : ''} ${wide ? 'wide' : ''}`}>
    <label for={id}>{label}</label>
    <div class="in"><input id={id} autocomplete="off" maxLength={64} value={text ?? value} aria-invalid={error ? 'true' : undefined} aria-describedby={error ? `${id}e` : undefined}
      onInput={(e) => setText(e.currentTarget.value)} onBlur={() => { if (text !== null && text.trim() && text !== value) onSet(text.trim()); setText(null); }}
      onKeyDown={(e) => { if (e.key === 'Enter') e.currentTarget.blur(); }} /></div>
    {error && <p class="err" id={`${id}e`} role="alert">{error}</p>}
  </div>;
}
