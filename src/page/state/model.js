// SPDX-License-Identifier: GPL-3.0-or-later
// What the page knows: the scene, how the page is set, what is chosen, and the core's last good answers.
// Screens read it and call it; it tells them when to draw themselves again.
import { newestOf, Stopped } from '../core/client.js';
import { boxes, placeOf } from '../place/geometry.js';
import { addShot, WHAT_IS_THERE } from '../place/add.js';
import { rowsOf } from '../day/plan.js';
import { createStore } from './store.js';
import { litIn, listOf, namesOf, remove, renamedTo, setDensity, tidy, unitOf } from './scene.js';
import { Pictures } from '../look/pictures.js';

const DEFAULTS = { look: 'auto', units: 'scene', area: 'day', shot: 0, ticks: {}, began: null };
const SETTLE_MS = 350; // after the last change before what takes long is asked

export class Model {
  faults = []; answers = { predict: null, dwell: null, cautions: null, choices: {} };
  selected = null; scout = null; scoutNote = ''; trouble = ''; note = ''; busy = new Set(); live = null; spoken = '';
  #given = new Set(); #heard = new Set(); #timer = 0; #clock = 0; #rows = { of: null, rows: [] }; #text = ''; #good = ''; #failed = ''; #shotNames = [];

  // lamps: LM-63 files by name, the page's own and those that were opened.
  constructor({ scene, keep, photoKeep = null, core, slow, drawing, cores = [], lamps = {} }) {
    this.keep = keep;
    this.photoKeep = photoKeep;
    this.cores = cores;
    this.lamps = lamps;
    this.#given = new Set(Object.keys(lamps));
    Object.assign(lamps, keep.read('lamps') ?? {});
    this.settings = { ...DEFAULTS, ...keep.read('settings') };
    this.store = createStore(scene, tidy);
    this.#shotNames = namesOf(this.store.scene, 'shots');
    this.core = core;
    this.slow = slow;
    this.drawing = drawing;
    this.pictures = new Pictures(drawing, () => this.changed());
    this.askAll = newestOf(() => this.#askAll());
    this.askShot = newestOf((k) => this.#askShot(k));
    this.store.subscribe(() => this.#sceneChanged());
  }

  subscribe(f) { this.#heard.add(f); return () => this.#heard.delete(f); }
  changed() { this.#heard.forEach((f) => f()); }
  say(text) { this.spoken = text; this.changed(); }

  // ---- settings
  set(values) {
    Object.assign(this.settings, values);
    this.#kept(this.keep.write('settings', this.settings));
    this.changed();
  }
  #kept(why) { this.note = why ? `This scene is not kept here: ${why}. Save it as a file.` : ''; }
  get units() { return this.settings.units === 'scene' ? unitOf(this.store.scene) : this.settings.units; }
  get shot() { return Math.min(this.settings.shot, Math.max(0, (this.store.scene.shots?.length ?? 0) - 1)); }
  get shotName() { return namesOf(this.store.scene, 'shots')[this.shot] ?? ''; }
  get camera() {
    const s = this.store.scene, shot = s.shots?.[this.shot];
    return shot ? (s.cameras ?? []).find((c, i) => namesOf(s, 'cameras')[i] === shot.camera) : undefined;
  }
  // Width over height of a shot's frame.
  aspect(shot) {
    const s = this.store.scene, at = namesOf(s, 'cameras').indexOf(s.shots?.[shot]?.camera), [wide, high] = s.cameras?.[at]?.sensor_mm ?? [24.9, 14];
    return wide / high;
  }
  // The density that is shown [1/m]: under the finger, else the plan's.
  get density() { return this.live ?? this.planned; }
  get planned() {
    const by = this.answers.dwell?.shots?.[this.shot]?.extinction_per_m ?? this.answers.predict?.density?.extinction_per_m;
    return by ?? this.answers.choices[this.shotName]?.extinction_per_m?.recommended ?? 0;
  }

  // ---- the running day: minutes since its first one; null where no clock runs
  get running() { return this.settings.began === null ? null : (Date.now() - this.settings.began) / 60000; }
  begin(min) {
    this.set({ began: min === null ? null : Date.now() - min * 60000 });
    this.#tick();
  }
  beginAtStart() {
    const at = new Date(), [h, m] = this.store.scene.start.split(':').map(Number);
    at.setHours(h, m, 0, 0);
    this.begin((Date.now() - at.getTime()) / 60000);
  }
  // The plan moved against the clock by so many minutes: sooner where over 0.
  shiftClock(min) { this.begin(Math.max(0, this.running + min)); }
  #tick() {
    clearInterval(this.#clock);
    if (this.settings.began !== null) this.#clock = setInterval(() => this.changed(), 1000);
  }
  // The day's rows, made once for an answer.
  get rows() {
    const { dwell } = this.answers;
    if (this.#rows.of !== dwell) this.#rows = { of: dwell, rows: dwell?.curve?.length ? rowsOf(dwell) : [] };
    return this.#rows.rows;
  }

  // ---- the scene
  // Another scene in place of this one, an undo away from it.
  take(label, scene) {
    this.selected = null;
    this.live = null;
    this.#text = ''; // asked anew, be it the same
    this.answers = { predict: null, dwell: null, cautions: null, choices: {} };
    this.set({ shot: 0, ticks: {}, began: null });
    if (this.scout?.shown) this.setScout({ ...this.scout, shown: false }); // of another place
    this.store.replace(label, scene);
  }
  // A lamp's LM-63 file: kept like the scene, and given to every core that runs.
  addLamp(name, text) {
    this.lamps[name] = text;
    this.#kept(this.keep.write('lamps', Object.fromEntries(this.ownLamps().map((n) => [n, this.lamps[n]]))));
    for (const core of this.cores) if (core.running) core.ask('file', { name, text }).catch(() => {}); // before whatever is asked next
    this.#text = '';
    this.askAll();
  }
  ownLamps(of = null) { return Object.keys(this.lamps).filter((n) => !this.#given.has(n) && (!of || (of.lights ?? []).some((l) => l.file === n))); }
  select(ref) { this.selected = ref && { ...ref }; this.changed(); }
  roomMiddle() {
    const camera = this.camera, at = camera && placeOf(this.store.scene, { kind: 'cameras', index: this.store.scene.cameras.indexOf(camera) });
    const box = boxes(this.store.scene)[0];
    return at ?? (box ? box.lo.map((v, i) => (v + box.hi[i]) / 2) : null);
  }
  addRoom() { this.store.change('drew a room', (s) => { WHAT_IS_THERE.find(([, w]) => w === 'Another room')[2](s, null); }); }
  addShot(camera) {
    let index = 0;
    this.store.change('added a shot', (s) => { index = addShot(s, camera); });
    this.set({ shot: index });
  }
  remove(ref) {
    const shot = ref.shot ?? this.shot, name = namesOf(this.store.scene, ref.kind, shot)[ref.index];
    this.select(null);
    this.store.change(`took away ${name}`, (s) => remove(s, ref.kind, ref.index, shot));
  }
  burn(light, on) {
    this.store.change(`${light} ${on ? 'on' : 'off'} in ${this.shotName}`, (s) => {
      const lit = litIn(s, this.shot).filter((n) => n !== light);
      const shot = s.shots[this.shot];
      shot.lights = on ? [...lit, light] : lit;
      if (!on && shot.dimmers) delete shot.dimmers[light];
      if (!on && shot.wants) shot.wants = shot.wants.filter((w) => w.light !== light);
    });
  }
  roomOfShot() { return this.answers.dwell?.shots?.[this.shot]?.room; }
  setDensity(k) {
    const room = this.roomOfShot();
    this.live = null;
    this.store.change(`haze of ${this.shotName}`, (s) => setDensity(s, this.shot, k, room));
  }

  // What the core asks where lengths look as if they were in another unit; null: nothing.
  get doubt() { return this.answers.dwell?.doubt ?? null; }

  // The core's words for a place of the file, or for a thing as a whole.
  faultAt(pointer, exact = false) {
    return this.faults.find((f) => f.where === pointer || (!exact && f.where.startsWith(pointer + '/')))?.text;
  }

  // ---- questions
  #sceneChanged() {
    this.#kept(this.keep.write('scene', this.store.scene));
    const names = namesOf(this.store.scene, 'shots'), now = this.scout && renamedTo(this.#shotNames, names, this.scout.shot);
    this.#shotNames = names;
    if (now) { this.scout = { ...this.scout, shot: now }; this.#keepScout(); } // the photo follows its shot's name
    this.changed();
    this.askAll();
  }
  #working(what, on) { if (on) this.busy.add(what); else this.busy.delete(what); this.changed(); }

  async #guard(what, work) {
    this.#working(what, true);
    try {
      const value = await work();
      if (this.#failed === what || this.#failed === '') this.trouble = ''; // another's stays
      return value;
    } catch (e) {
      this.#failed = e instanceof Stopped ? '' : what;
      this.trouble = e instanceof Stopped ? 'The sums stopped. The scene is kept; they start again.' : e.message;
      return null;
    } finally { this.#working(what, false); }
  }

  // Faults first; where there are none, the shot on the screen, the day and its cautions.
  async #askAll() {
    const text = JSON.stringify(this.store.scene);
    if (text === this.#text && !this.trouble) return;
    this.#text = text;
    this.#wantPicture(null, text); // drawn while the day is worked out
    await this.#guard('plan', async () => {
      this.faults = await this.core.ask('check', { scene: text });
      this.changed();
      if (this.faults.length) return;
      this.#good = text;
      const [dwell, cautions] = [await this.core.ask('run', { command: 'dwell', scene: text }), await this.core.ask('run', { command: 'cautions', scene: text })];
      this.answers.dwell = dwell.answer;
      this.answers.dwellSaid = dwell.said;
      this.answers.cautions = cautions.answer;
      this.answers.cautionsSaid = cautions.said;
      this.answers.of = text;
    });
    const stale = text !== JSON.stringify(this.store.scene); // the next question is on its way
    if (this.faults.length === 0 && !stale) { this.askShot(null); this.#later(); this.#smallPictures(); }
  }
  // A shot's density as the core is asked for it: k, or null for the shot's own; one that is open has none yet.
  #asked(k) {
    const open = ['extinction_per_m', 'mass_mg_per_m3', 'visible_range_m'].every((key) => this.store.scene.shots[this.shot][key] === undefined);
    return k ?? (open ? this.answers.choices[this.shotName]?.extinction_per_m?.recommended ?? 0.02 : null);
  }
  #wantPicture(k, scene = this.#good) {
    if (!this.camera) return;
    const shot = this.shot, extinction = this.#asked(k), mine = this.scout?.shown && this.scout.shot === this.shotName ? this.scout : null, photo = mine?.image;
    this.pictures.want({ scene, shot, photo, grey: mine?.grey && { x: mine.grey.u * photo.width, y: mine.grey.v * photo.height, nits: mine.grey.nits }, aspect: this.aspect(shot), extinction: extinction ?? this.planned, exact: extinction, planned: k === null });
  }
  async #askShot(k) {
    if (!this.#good || !this.camera) { this.answers.predict = null; return; }
    const shot = this.shot, scene = this.#good, extinction = this.#asked(k);
    this.#wantPicture(k);
    await this.#guard('shot', async () => {
      this.answers.predict = await this.core.ask('predict', { scene, shot, extinction });
      this.answers.predictOf = { shot, name: this.shotName };
    });
    this.changed();
  }
  #smallPictures() {
    const shots = this.answers.dwell?.shots ?? [];
    this.pictures.wantSmall(this.#good, shots.map((s, shot) => ({ name: s.name, shot, extinction: s.extinction_per_m, aspect: this.aspect(shot) })));
  }
  // A photo from the scout: { width, height, image, shot, pairs, grey, shown }; null: none. grey: where its
  // exposure is told, { u, v, nits }.
  setScout(scout) {
    this.scout = scout;
    this.changed();
    this.askShot(null);
    return this.#keepScout();
  }
  async #keepScout() {
    const why = await this.photoKeep?.write(this.scout);
    this.scoutNote = why ? `This photo is not kept here: ${why}. It is gone when the page closes.` : '';
    this.changed();
  }
  async #recallScout() {
    const kept = await this.photoKeep?.read();
    if (!kept || this.scout) return;
    this.scout = kept;
    this.changed();
    if (kept.shown) this.askShot(null);
  }
  // Why a tapped patch does not tell how the photo was exposed; null where it does.
  scoutGrey(grey) {
    const { image } = this.scout;
    return this.#guard('grey', () => this.drawing.ask('scoutGrey', { scene: this.#good, shot: this.shot, width: image.width, height: image.height, photo: image.data, grey: { x: grey.u * image.width, y: grey.v * image.height, nits: grey.nits } }));
  }
  // While the finger is down.
  tryDensity(k) { this.live = k; this.changed(); return this.askShot(k); }

  showShot(index) { this.live = null; this.set({ shot: index }); this.askShot(null); this.#later(); }

  // What takes long, once nothing has changed for a moment: the band that the wants leave.
  #later() {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.askBand(), SETTLE_MS);
  }
  async askBand(name = this.shotName) {
    const scene = this.#good, shot = this.store.scene.shots?.find((s, i) => namesOf(this.store.scene, 'shots')[i] === name);
    if (!shot?.wants?.length || this.answers.choices[name]?.of === scene) return;
    await this.#guard('band', async () => {
      const { answer } = await this.slow().ask('run', { command: 'choose', scene, options: [`shot=${name}`] });
      const choice = answer?.shots.find((c) => c.name === name);
      this.answers.choices = { ...this.answers.choices, [name]: { ...choice, of: scene } };
    });
  }
  // Every shot's density, and the order that waits least.  progress: hears how far it is, (done, of).
  async chooseAll(progress) {
    const scene = this.#good;
    return this.#guard('choose', async () => {
      const { answer } = await this.slow().ask('run', { command: 'choose', scene }, ({ done, count }) => progress?.(done, count));
      if (answer) this.answers.choices = { ...this.answers.choices, ...Object.fromEntries(answer.shots.map((c) => [c.name, { ...c, of: scene }])) };
      return answer;
    });
  }
  // The day on paper: { said, written: { 'day.html' } }.
  sheet(progress) {
    const options = ['out=day.html', ...(this.units === unitOf(this.store.scene) ? [] : [`units=${this.units}`])];
    return this.#guard('sheet', () => this.slow().ask('run', { command: 'sheet', scene: this.#good, options, written: ['day.html'] }, ({ done, count }) => progress?.(done, count)));
  }
  ask(command, options = [], written = []) {
    return this.#guard(command, () => this.core.ask('run', { command, scene: this.#good, options, written }));
  }
  get good() { return this.#good; }
  start() { this.#tick(); this.askAll(); this.#recallScout(); }
  things(kind) { return listOf(this.store.scene, kind, this.shot); }
}
