// SPDX-License-Identifier: GPL-3.0-or-later
// Which picture is asked for next: the shot on the screen as it is wanted now, then the same without haze
// to hold against it, then small ones of the other shots. Newest first; what is older is put off.
const COLUMNS = { phone: 640, desk: 640 }, SMALL = 160; // pixels across: as sharp as the place for them shows

export class Pictures {
  now = null; clear = null; graded = null; small = {};
  #wanted = null; #grade = null; #running = false; #queue = []; #core; #changed; #columns;

  constructor(core, changed, wide) { this.#core = core; this.#changed = changed; this.#columns = wide ? COLUMNS.desk : COLUMNS.phone; }

  // extinction: what is shown, as a key; exact: what the core is asked, null for the shot's own.
  want(w) {
    const key = `${w.shot}|${w.extinction}`;
    if (this.#wanted?.scene === w.scene && this.#wanted.key === key) return;
    this.#wanted = { ...w, key };
    this.#hurry();
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
    const end = await this.#core.ask('draw', args, (picture) => { take(picture); this.#changed(); });
    return !end.put_off;
  }
  // One picture more; false where there is none to draw.
  async #next() {
    const w = this.#wanted, g = this.#grade, s = this.#queue[0];
    if (w && !w.done) {
      w.done = await this.#draw(w, w.exact, this.#columns, (p) => { if (this.#wanted === w) this.now = { ...p, key: w.key, shot: w.shot }; });
    } else if (w && (this.clear?.of !== w.scene || this.clear.shot !== w.shot || !this.clear.fine)) {
      await this.#draw(w, 0, this.#columns, (p) => { this.clear = { ...p, of: w.scene, shot: w.shot }; });
    } else if (w && g && this.graded?.of !== g.of) {
      await this.#draw(w, w.exact, this.#columns, (p) => { if (p.fine) this.graded = { ...p, of: g.of, shot: w.shot }; }, g.grade);
    } else if (s) {
      if (await this.#draw(s, s.extinction, SMALL, (p) => { if (p.fine) this.small = { ...this.small, [s.name]: { ...p, of: `${s.scene}|${s.extinction}` } }; }) && this.#queue[0] === s) this.#queue.shift();
    } else return false;
    return true;
  }
  async #run() {
    if (this.#running) return;
    this.#running = true;
    try { while (await this.#next()); } catch { // it is told elsewhere; what failed is not asked again by itself
      this.#queue = [];
      this.#grade = null;
      if (this.#wanted) this.#wanted.done = true;
    }
    this.#running = false;
  }
}
