// SPDX-License-Identifier: GPL-3.0-or-later
// The core behind a message: { id, op, args } in, { id, value } or { id, error, trap } out. What there is
// so far goes with `more`: a first picture, how far a question is. A newer picture puts an older one off.
import { openBridge } from './bridge.js';

const FIRST = 96;    // pixels across a first picture: about 0.2 s of a processor
const TELL_MS = 100; // between two words of how far it is

let bridge, picture = 0, asked = 0, told = 0;
const shareDone = (done, count) => {
  if (done < count && performance.now() - told < TELL_MS) return;
  told = performance.now();
  self.postMessage({ id: asked, more: { done, count } });
};
const breathe = () => new Promise((done) => setTimeout(done, 0));

// A picture small and coarse, then fine; a newer question in between puts the fine one off. In a haze near
// one that was looked through the fine one costs little, and comes before anyone saw the first.
async function draw(id, args) {
  const mine = ++picture, shape = args.height / args.width;
  const steps = args.photo ? [{ fine: true }] : args.width > FIRST ? [{ width: FIRST, height: Math.round(FIRST * shape), fine: false }, { fine: true }] : [{ fine: true }];
  for (const step of steps) {
    await breathe();
    if (mine !== picture) return { put_off: true };
    const more = { ...(args.photo ? bridge.scouted(args) : bridge.picture({ ...args, ...step })), fine: step.fine };
    self.postMessage({ id, more }, [more.pixels.buffer]);
  }
  return { put_off: false };
}

async function answer({ id, op, args }) {
  if (op === 'start') {
    bridge = await openBridge(args.module, args.files, shareDone);
    return true;
  }
  if (op === 'draw') return draw(id, args);
  if (op === 'put off') return ++picture;
  asked = id;
  if (!Object.hasOwn(bridge, op)) throw new Error('no such question: ' + op);
  return bridge[op](args);
}

self.onmessage = async ({ data }) => {
  try {
    self.postMessage({ id: data.id, value: await answer(data) });
  } catch (e) {
    const trap = e instanceof WebAssembly.RuntimeError || /the core ended|out of memory/.test(String(e));
    self.postMessage({ id: data.id, error: String(e.message ?? e), trap });
  }
};
