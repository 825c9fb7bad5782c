// SPDX-License-Identifier: GPL-3.0-or-later
// The core behind a message: { id, op, args } in, { id, value } or { id, error, trap } out. A picture
// sends what it has so far with `more`; a newer picture puts an older one off.
import { openBridge } from './bridge.js';

let bridge, picture = 0;
const breathe = () => new Promise((done) => setTimeout(done, 0));

// A picture coarse, then fine; a newer question in between puts the fine one off.
async function draw(id, args) {
  const mine = ++picture;
  for (const fine of [false, true]) {
    await breathe();
    if (mine !== picture) return { put_off: true };
    const more = bridge.picture({ ...args, fine });
    self.postMessage({ id, more: { ...more, fine } }, [more.pixels.buffer]);
  }
  return { put_off: false };
}

async function answer({ id, op, args }) {
  if (op === 'start') {
    bridge = await openBridge(args.module, args.files);
    return true;
  }
  if (op === 'draw') return draw(id, args);
  if (op === 'put off') return ++picture;
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
