// SPDX-License-Identifier: GPL-3.0-or-later
// The running day: what to do now, how long, and what comes next, large enough for an arm's length.
import { useState } from 'preact/hooks';
import { clock, duration, lengthWords, timeLeft } from '../state/units.js';
import { hazeWord, visibility } from '../state/words.js';
import { alarmsOf, densityAt, fromAbout, nowOf } from './plan.js';

const DO = { warm: 'Warm up', on: 'Hazer on', off: 'Hazer off', doors: 'Open doors', roll: 'Roll', cut: 'Cut', over: 'Hazer off for good', clear: 'The air is clear' };
const say = (s) => `${DO[s.does]}${s.seconds && s.does !== 'roll' ? `, ${duration(s.seconds)}` : ''}${s.does === 'roll' ? ` ${s.shot}` : ''}${s.does === 'over' ? ', doors open, fans on' : ''}`;

const planned = (dwell) => dwell?.events?.length > 0 && dwell.shots.length > 0;

// The head's line: what is on now, of the running day or of none.
export function NowLine({ model }) {
  const { dwell } = model.answers, start = model.store.scene.start, min = model.running;
  if (min === null || !planned(dwell)) {
    const first = planned(dwell) && dwell.events[0];
    return <a class="line" href="#clock"><span class="say"><b class="title">{model.store.scene.title?.split(':')[0] ?? 'No title'}</b><span class="quiet">{first ? `first haze ${clock(first.min, start)}` : 'no plan of the day yet'}</span></span></a>;
  }
  const { now, next, shot } = nowOf(dwell, min);
  return <a class="line" href="#clock"><span class="clock">{clock(min, start)}</span><span class="say"><b>{now ? DO[now.does === 'roll' ? 'off' : now.does] : 'Not yet'}{next ? `, ${timeLeft(60 * (next.min - min))}` : ''}</b><span class="quiet">{shot ? `rolling ${shot.name}` : next ? `then ${say(next).toLowerCase()}` : 'the day is over'}</span></span></a>;
}

export function Clock({ model }) {
  const { dwell } = model.answers, { scene } = model.store, start = scene.start, min = model.running, [asking, setAsking] = useState(false);
  const head = <header><h1 id="h-clock" tabindex="-1">Clock</h1><a class="btn" href="#day">Close</a></header>;
  if (!planned(dwell)) return <section class="screen" id="clock" aria-labelledby="h-clock">{head}<p>There is no plan to run: the day needs a hazer and a shot.</p></section>;
  if (min === null) {
    return <section class="screen" id="clock" aria-labelledby="h-clock">{head}<p class="give">The clock runs the plan from its first minute, {duration(60 * (dwell.shots[0]?.start_min ?? 0))} before {dwell.shots[0]?.name}.</p>
      <div class="acts"><button class="main-act" onClick={() => model.begin(0)}>Start now</button>{start && <button onClick={() => model.beginAtStart()}>It began at {start}</button>}</div></section>;
  }
  const alarm = alarmsOf(model.answers.cautions).filter((a) => a.reached).sort((a, b) => (a.at ?? 0) - (b.at ?? 0))[0];
  const { now, next, later, shot } = nowOf(dwell, min), on = now?.does === 'on', left = next ? 60 * (next.min - min) : 0;
  const doing = !now ? 'Not yet' : now.does === 'roll' || now.does === 'cut' ? 'Hazer off' : DO[now.does], room = shot?.room ?? dwell.shots[0].room, k = densityAt(dwell.curve, room, min);
  return <section class="screen" id="clock" aria-labelledby="h-clock">
    <div class="runbox" data-hazer={on ? 'on' : 'off'}><h1 class="do" id="h-clock" tabindex="-1">{doing}</h1>
      <p class="left" role="timer" aria-label={`${duration(left)} left`}>{next ? timeLeft(left) : 'done'}</p>
      <p class="until">{next ? <>until <b>{clock(next.min, start, true)}</b>{shot ? `, rolling ${shot.name}` : ''}</> : 'Nothing more to do.'}</p></div>
    {next && <div class="next"><p class="quiet">Next{shot && next.does === 'on' ? ', when the take is cut' : ''}</p><p class="what">{say(next)}</p></div>}
    <div class="acts two">{next && <button onClick={() => model.shiftClock(next.min - min)}>{shot ? 'We cut early' : 'Do it now'}</button>}<button onClick={() => model.shiftClock(-1)}>{shot ? 'Take runs on' : 'Not ready'}: 1 min</button></div>
    {alarm && <a class="alarm-line" href="#cautions"><b>Expect an alarm in the {alarm.room}{alarm.at !== null ? ` ${fromAbout(alarm.at, start)}` : ''}.</b></a>}
    <ol class="later">{later.map((s) => <li key={s.min + s.does}><time>{clock(s.min, start, true)}</time><span>{say(s)}</span></li>)}</ol>
    <p class="air">By the plan the {room} holds <b>{hazeWord(k).toLowerCase()}</b>{k > 0.0002 ? <> haze, <span class="nb">visibility {lengthWords(visibility(k), model.units)}</span></> : ''}.</p>
    <div class="acts">{asking ? <><button onClick={() => { model.begin(null); setAsking(false); }}>Yes, stop the clock</button><button onClick={() => setAsking(false)}>Let it run</button></> : <button class="plain" onClick={() => setAsking(true)}>Stop the clock</button>}<a class="btn plain" href="#day">Day</a></div>
  </section>;
}
