// SPDX-License-Identifier: GPL-3.0-or-later
// Which picture is asked for next: the shot on the screen as it is wanted now, then the same without haze
// to hold against it, then small ones of the other shots; then, unseen, thicker hazes, so that a hand on
// the control does not wait for them. Newest first; what is older is put off. A shot that was looked at
// before stands at once, another as small as the day has it.
import { Stopped } from '../core/client.js';

const COLUMNS = 640, SMALL = 160; // pixels across
const AHEAD = [0.12, 0.06]; // [1/m] looked through before anyone asks: thick haze is what is slow at first
const KEPT = 8; // whole pictures of shots, 0.9 MB each
const FIRST_MS = 60; // that a first picture waits for the fine one, so that the view does not blink

export class Pictures {
  idle = true; why = ''; now = null; clear = null; graded = null; small = {};
  #wanted = null; #grade = null; #ahead = {}; #running = false; #queue = []; #kept = new Map(); #core; #changed;

  constructor(core, changed) { this.#core = core; this.#changed = changed; }

  // extinction: what is shown, as a key; exact: what the core is asked, null for the shot's own.
  want(w) {
    const key = `${w.shot}|${w.extinction}${w.photo ? `|photo${w.grey ? JSON.stringify(w.grey) : ''}` : ''}`;
    if (this.#wanted?.scene === w.scene && this.#wanted.key === key && this.#wanted.photo === w.photo) return;
    this.#wanted = { ...w, key };
    this.#standIn(w, key);
    this.#hurry();
  }
  // What is at hand already, until it is drawn.
  #standIn(w, key) {
    const kept = this.#kept.get(`${key}|${w.scene}`), clear = this.#kept.get(`clear|${w.shot}|${w.scene}`), small = Object.values(this.small).find((s) => s.shot === w.shot && s.of === `${w.scene}|${w.extinction}`);
    if (kept) this.now = kept;
    else if (small && !w.photo && this.now?.shot !== w.shot) this.now = { ...small, key, fine: false };
    if (clear && !w.photo) this.clear = clear;
  }
  #keep(key, picture) {
    this.#kept.delete(key);
    this.#kept.set(key, picture);
    if (this.#kept.size > KEPT) this.#kept.delete(this.#kept.keys().next().value);
  }
  // The same with a grade on it: { slope, offset } in linear light.
  wantGraded(grade) {
    const of = JSON.stringify([this.#wanted?.scene, this.#wanted?.key, grade]);
    if (this.#grade?.of === of) return;
    this.#grade = { grade, of };
    this.#run();
  }
  // Small pictures for the day: [{ name, shot, extinction, aspect }].
  wantSmall(scene, list) {
    this.#queue = list.filter((w) => this.small[w.name]?.of !== `${scene}|${w.extinction}`).map((w) => ({ ...w, scene }));
    this.#run();
  }

  #hurry() {
    if (this.#running) this.#core.ask('put off', {}).catch(() => {});
    this.#run();
  }
  async #draw(w, extinction, columns, take, grade = null) {
    const args = { scene: w.scene, shot: w.shot, extinction, width: columns, height: Math.max(16, Math.round(columns / w.aspect)), grade };
    if (w.photo && columns === COLUMNS && !grade) Object.assign(args, { width: w.photo.width, height: w.photo.height, photo: w.photo.data, grey: w.grey });
    let first = 0;
    const show = (picture) => { clearTimeout(first); this.why = ''; take(picture); this.#changed(); };
    const end = await this.#core.ask('draw', args, (picture) => { if (picture.fine) show(picture); else first = setTimeout(show, FIRST_MS, picture); });
    return !end.put_off;
  }
  // One picture more; false where there is none to draw.
  async #next() {
    const w = this.#wanted, g = this.#grade, s = this.#queue[0];
    if (w && !w.done) {
      w.done = await this.#draw(w, w.exact, COLUMNS, (p) => { if (this.#wanted !== w) return; this.now = { ...p, key: w.key, shot: w.shot }; if (p.fine && w.planned && !w.photo) this.#keep(`${w.key}|${w.scene}`, this.now); });
    } else if (w && (this.clear?.of !== w.scene || this.clear.shot !== w.shot || this.clear.photo !== w.photo || !this.clear.fine)) {
      await this.#draw(w, 0, COLUMNS, (p) => { this.clear = { ...p, of: w.scene, shot: w.shot, photo: w.photo }; if (p.fine && !w.photo) this.#keep(`clear|${w.shot}|${w.scene}`, this.clear); });
    } else if (w && g && this.graded?.of !== g.of) {
      await this.#draw(w, w.exact, COLUMNS, (p) => { if (p.fine) this.graded = { ...p, of: g.of, shot: w.shot }; }, g.grade);
    } else if (s) {
      if (await this.#draw(s, s.extinction, SMALL, (p) => { if (p.fine) this.small = { ...this.small, [s.name]: { ...p, shot: s.shot, of: `${s.scene}|${s.extinction}` } }; }) && this.#queue[0] === s) this.#queue.shift();
    } else if (w && !w.photo && (this.#ahead.of !== w.scene || this.#ahead.shot !== w.shot || this.#ahead.done < AHEAD.length)) {
      if (this.#ahead.of !== w.scene || this.#ahead.shot !== w.shot) this.#ahead = { of: w.scene, shot: w.shot, done: 0 };
      if (await this.#draw(w, AHEAD[this.#ahead.done], COLUMNS, () => {})) this.#ahead.done++;
    } else return false;
    return true;
  }
  async #run() {
    if (this.#running) return;
    this.#running = true;
    this.idle = false;
    try { while (await this.#next()); } catch (e) { // what failed is not asked again by itself
      this.why = e instanceof Stopped ? '' : e.message; // that one is told by the page's head
      this.#queue = [];
      this.#grade = null;
      if (this.#wanted) this.#wanted.done = true;
    }
    this.#running = false;
    this.idle = true;
    if (this.why) this.#changed();
  }
}
