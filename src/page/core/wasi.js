// SPDX-License-Identifier: GPL-3.0-or-later
// The few calls that wasi-libc makes, for a core that has no files: what it prints is dropped (answers
// lie in memory), everything else is refused. The same in node, a page and a Worker.
const BADF = 8, NOENT = 44;
const utf8 = new TextDecoder();
const bytesOf = (text) => new TextEncoder().encode(text);

function calls(memory) {
  const view = () => new DataView(memory().buffer);
  return {
    fd_write(fd, iov, count, done) {
      const v = view();
      let total = 0;
      for (let i = 0; i < count; i++) {
        total += v.getUint32(iov + 8 * i + 4, true);
      }
      if (fd !== 1 && fd !== 2) return BADF;
      v.setUint32(done, total, true);
      return 0;
    },
    fd_fdstat_get(fd, at) { // a file, no terminal: no colour, no bar
      if (fd > 2) return BADF;
      const v = view();
      v.setBigUint64(at, 4n, true);
      v.setBigUint64(at + 8, ~0n, true);
      v.setBigUint64(at + 16, 0n, true);
      return 0;
    },
    environ_sizes_get(count, size) {
      view().setUint32(count, 0, true);
      view().setUint32(size, 0, true);
      return 0;
    },
    environ_get: () => 0,
    fd_close: () => 0,
    proc_exit(code) { throw new Error('the core ended with ' + code); },
  };
}

// Any call that is not listed is answered with an error, so that a new one cannot stop the start.
const refusing = (known) => new Proxy(known, {
  get: (all, name) => all[name] ?? (/^path_/.test(name) ? () => NOENT : () => BADF),
});

// shareDone: hears how far a question is, (done, of how many).
export async function startCore(module, shareDone) {
  let exports;
  const known = { ...calls(() => exports.memory), vs_page_share_done: shareDone };
  const imports = {};
  for (const { module: from, name } of WebAssembly.Module.imports(module)) {
    (imports[from] ??= {})[name] = refusing(known)[name];
  }
  exports = (await WebAssembly.instantiate(module, imports)).exports;
  exports._initialize();
  return { exports };
}

// Bytes in the core's memory, with a NUL behind them; the caller frees them.
export function put(core, bytes) {
  const at = core.malloc(bytes.length + 1);
  if (!at) throw new Error('out of memory');
  const there = new Uint8Array(core.memory.buffer, at, bytes.length + 1);
  there.set(bytes);
  there[bytes.length] = 0;
  return at;
}

export function withTexts(core, texts, call) {
  const at = texts.map((t) => put(core, bytesOf(t)));
  try { return call(...at); } finally { at.forEach((p) => core.free(p)); }
}

// A C string of the core's; null where there is none.
export function textAt(core, at) {
  if (!at) return null;
  const all = new Uint8Array(core.memory.buffer);
  return utf8.decode(all.subarray(at, all.indexOf(0, at)));
}
