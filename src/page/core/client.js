// SPDX-License-Identifier: GPL-3.0-or-later
// The page's end of its Workers: one answers what is on the screen, one draws, more are started for
// questions that can be parted. No call ever hangs: when a Worker stops, all that wait on it are
// told, and it is started anew.
export class Stopped extends Error {}

export class Core {
  #make; #worker = null; #waiting = new Map(); #next = 1; #ready = null; #onStop;

  // make: gives a new Worker and what it starts with, or a promise of that.  onStop: hears that the
  // sums stopped.
  constructor(make, onStop = () => {}) {
    this.#make = make;
    this.#onStop = onStop;
  }

  #start() {
    const ready = (async () => {
      const { worker, module, files } = await this.#make();
      if (this.#ready !== ready) { worker.terminate(); throw new Stopped('ended'); }
      this.#worker = worker;
      worker.onmessage = ({ data }) => this.#hear(data);
      worker.onerror = (e) => this.#fail(new Stopped(e.message || 'the sums stopped'));
      worker.onmessageerror = () => this.#fail(new Stopped('an answer could not be read'));
      return this.#post('start', { module, files });
    })();
    this.#ready = ready;
    return ready;
  }

  #hear({ id, value, error, trap, more }) {
    const call = this.#waiting.get(id);
    if (!call) return;
    if (more !== undefined) return call.more?.(more);
    this.#waiting.delete(id);
    if (error === undefined) return call.done(value);
    call.fail(trap ? new Stopped(error) : new Error(error));
    if (trap) this.#fail(new Stopped(error)); // its memory may be anything now
  }

  #fail(why) {
    const waiting = [...this.#waiting.values()];
    this.close();
    waiting.forEach((call) => call.fail(why));
    this.#onStop(why);
  }

  #post(op, args, more) {
    const id = this.#next++;
    return new Promise((done, fail) => {
      this.#waiting.set(id, { done, fail, more });
      this.#worker.postMessage({ id, op, args });
    });
  }

  // Asks; `more` hears what comes before the end.
  async ask(op, args, more) {
    await (this.#ready ?? this.#start());
    return this.#post(op, args, more);
  }

  start() { return this.#ready ?? this.#start(); }
  get running() { return this.#ready !== null; }

  // Ends it; the next question starts a new one.
  close() {
    this.#worker?.terminate();
    this.#worker = null;
    this.#ready = null;
    const waiting = [...this.#waiting.values()];
    this.#waiting.clear();
    waiting.forEach((call) => call.fail(new Stopped('ended')));
  }
}

// The newest of questions asked in a row: while one is under way only the last that came is kept.
export function newestOf(ask) {
  let busy = false, next = null;
  async function run(args, done, fail) {
    busy = true;
    try { done(await ask(args)); } catch (e) { fail(e); }
    busy = false;
    if (next) { const [a, d, f] = next; next = null; run(a, d, f); }
  }
  return (args) => new Promise((done, fail) => {
    if (busy) {
      next?.[1](null); // overtaken
      next = [args, done, fail];
    } else run(args, done, fail);
  });
}
