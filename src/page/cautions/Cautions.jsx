// SPDX-License-Identifier: GPL-3.0-or-later
// The cautions in full: what comes first, each verdict in its heading, figures behind a line, and a list to
// tick with who does it. No density is ever cleared of danger here.
import { digits, lengthWords } from '../state/units.js';
import { CAUTION, statusWords } from '../state/words.js';
import { fromAbout } from '../day/plan.js';

function Detectors({ model, told }) {
  const start = model.store.scene.start;
  const named = told.detectors, reached = named.filter((d) => d.reached);
  const when = (d) => d.reached_min === null ? '' : ` ${fromAbout(d.reached_min, start)}`;
  const heading = reached.length ? `Fire alarm: expect it${when(reached[0])}` : named.length ? 'Fire alarm: may still come' : 'Fire alarm: nobody has said what hangs there';
  return <section class={`caut ${reached.length ? 'over' : ''}`}><h2>{heading}</h2>
    {named.map((d) => <p class="verdict" key={d.name}>{d.name}, {d.room}: {digits(d.peak_db_per_m)} dB/m at the peak, {d.alarm_given ? 'alarms' : 'its kind may alarm'} at {digits(d.alarm_db_per_m)}.</p>)}
    <p class="verdict">{reached.length ? 'Expect an alarm: have the system isolated by whoever is responsible for it, with a fire watch, before any haze.' : 'Nearer the hazer the air is thicker than the plan says. Ask whoever is responsible for the fire alarm, before any haze.'} {reached.length ? 'Nearer the hazer it comes sooner.' : ''}</p>
    <details><summary>Every kind of head, each room</summary><div class="scroll" role="region" tabindex="0" aria-label="Every kind of head, each room"><table class="rows"><thead><tr><th scope="col">Kind</th><th scope="col">Room</th><th scope="col">Alarms at</th><th scope="col">Peak</th></tr></thead><tbody>
      {(told.thresholds ?? []).map((t, i) => <tr key={i} class={t.reached ? 'missed' : ''}><th scope="row">{t.name ?? t.kind}</th><td>{t.room}</td><td>{digits(t.alarm_db_per_m)} dB/m</td><td>{digits(t.peak_db_per_m)}{t.reached ? ', expect an alarm' : ''}</td></tr>)}</tbody></table></div></details></section>;
}

function Bars({ list }) {
  const most = Math.max(...list.flatMap((e) => [e.high_mg_per_m3, e.limit_mg_per_m3])) * 1.08, wide = 320, said = list.map((e) => `${e.who}, ${Number((e.minutes / 60).toFixed(1))} h`), left = Math.min(170, 12 + 8 * Math.max(...said.map((t) => t.length))), X = (v) => left + v / most * (wide - left - 8);
  return <svg class="bars" viewBox={`0 0 ${wide} ${list.length * 30 + 26}`} role="img" aria-label={list.map((e) => `${e.who}: ${digits(e.low_mg_per_m3)} to ${digits(e.high_mg_per_m3)}, limit ${digits(e.limit_mg_per_m3)} milligrams per cubic metre`).join('; ')}>
    {list.map((e, i) => <g key={i}><text x="0" y={30 * i + 19}>{said[i]}</text><rect class="onbar" x={X(e.low_mg_per_m3)} y={30 * i + 7} width={Math.max(2, X(e.high_mg_per_m3) - X(e.low_mg_per_m3))} height="16" /><path class="alarmmark" d={`M${X(e.limit_mg_per_m3)} ${30 * i + 2}v26`} /></g>)}
    <path class="axisline" d={`M${left} ${list.length * 30 + 4}H${wide}`} /><text x={left} y={list.length * 30 + 22}>0</text><text x={wide} y={list.length * 30 + 22} text-anchor="end">{digits(most)} mg/m³</text></svg>;
}

function Breathing({ told }) {
  const worst = [...told.exposure].sort((a, b) => b.high_mg_per_m3 / b.limit_mg_per_m3 - a.high_mg_per_m3 / a.limit_mg_per_m3), over = worst.filter((e) => e.reached);
  const peak = told.rooms.reduce((a, r) => (r.peak_high_mg_per_m3 > a.peak_high_mg_per_m3 ? r : a), told.rooms[0]);
  const each = [...new Set(told.exposure.map((e) => e.who))].map((who) => worst.find((e) => e.who === who && e.averaging === '8 h') ?? worst.find((e) => e.who === who));
  return <section class={`caut ${over.length ? 'over' : ''}`}><h2>Breathing: {over.length ? `${[...new Set(over.map((e) => e.who))].join(', ')} may be over` : 'figures beside the limits'}</h2>
    {peak && <p class="verdict">{digits(peak.peak_low_mg_per_m3)} to {digits(peak.peak_high_mg_per_m3)} mg/m³ at the peak in the {peak.name}: a range, for the size of the droplets is not known well. {over[0] ? `${over[0].who}: ${digits(over[0].low_mg_per_m3)} to ${digits(over[0].high_mg_per_m3)} over ${over[0].averaging}; ${over[0].kind} is ${digits(over[0].limit_mg_per_m3)}.` : 'A figure under a limit clears nobody: people with asthma and children react sooner.'}</p>}
    {each.length > 0 && <Bars list={each} />}
    <details><summary>Limits and where they are from</summary><div class="scroll" role="region" tabindex="0" aria-label="Limits and where they are from"><table class="rows"><thead><tr><th scope="col">Who, limit</th><th scope="col">mg/m³</th><th scope="col">Limit</th></tr></thead><tbody>
      {worst.map((e, i) => <tr key={i} class={e.reached ? 'missed' : ''}><th scope="row">{e.who}: {e.limit}, {e.averaging}<small>{e.kind}; {e.source} ({statusWords[e.status] ?? e.status})</small></th><td>{digits(e.low_mg_per_m3)} to {digits(e.high_mg_per_m3)}</td><td>{digits(e.limit_mg_per_m3)}</td></tr>)}</tbody></table></div></details></section>;
}

function WayOut({ model, told }) {
  const x = told.exits, unit = model.units;
  if (!x) return null;
  const dark = x.exit_seen === false;
  return <section class={`caut ${dark ? 'over' : ''}`}><h2>The way out{dark ? ': not seen' : ''}</h2>
    <p class="verdict">{x.lit_m === null ? 'There is no haze before the signs.' : `At the peak a lit sign shows to ${lengthWords(x.lit_m, unit)}, a reflecting one to ${lengthWords(x.reflecting_m, unit)}.`} {x.exit_m ? `The way out is ${lengthWords(x.exit_m, unit)}, by a ${x.sign} sign: it ${dark ? 'does NOT show' : 'shows'}.` : 'Nobody has said how far the way out is.'} Keep it free and lit.</p></section>;
}

export function Cautions({ model }) {
  const told = model.answers.cautions, { dwell } = model.answers, { ticks } = model.settings, shots = model.store.scene.shots?.length > 0;
  return <section class="screen" id="cautions" aria-labelledby="h-cautions">
    <header><h1 id="h-cautions" tabindex="-1">Cautions</h1><a class="btn only-desk" href="#look">Close</a></header>
    <p class="lead">{CAUTION}</p>
    {!told && <p>{model.answers.cautionsSaid || 'They are worked out once the scene has no faults. Until then expect an alarm from any haze.'}</p>}
    {told && <><p class="small quiet">{!shots ? 'No shot yet, so no figures: expect an alarm from any haze. What is to be done holds all the same.' : told.day === 'plan' ? 'By the peaks of the day’s plan.' : 'By the densities of the shots: there is no plan of the day.'}</p>
      {shots && <><Detectors model={model} told={told} />
      {told.exposure.length > 0 && <Breathing told={told} />}
      <WayOut model={model} told={told} /></>}
      {shots && dwell?.clear && Number.isFinite(dwell.clear.minutes) && <section class="caut"><h2>Clearing</h2><p class="verdict">{Math.round(dwell.clear.minutes)} min after the last shot nobody sees haze{dwell.clear.purged ? `, with doors open and fans on; ${Math.round(dwell.clear.minutes_closed)} min without` : ''}. The alarm stays off until whoever is responsible has put it back.</p></section>}
      <section class="caut"><h2>To do</h2><ul class="check">{told.notices.map((n, i) => { const key = n.do; return <li key={i}><label><input type="checkbox" checked={Boolean(ticks[key])} onChange={(e) => model.set({ ticks: { ...ticks, [key]: e.currentTarget.checked } })} /><span>{n.do}<small>{[n.when, n.who].filter(Boolean).join(', ')}{n.status ? `; ${statusWords[n.status] ?? n.status}` : '; the venue’s own rule'}</small></span></label></li>; })}</ul></section></>}
    {told && <p class="small quiet">{told.words}</p>}
  </section>;
}
