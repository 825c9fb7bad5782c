// SPDX-License-Identifier: GPL-3.0-or-later
// The questions that the page asks of the core, by name: the one file that knows the core's exports.
// Runs in a Worker and, for tests, in node. docs/page.md lists the questions.
import { put, startCore, textAt, withTexts } from './wasi.js';

const NAME = 'scene.json'; // stands for the scene in messages
const encoder = new TextEncoder();

export async function openBridge(module, files = {}, shareDone = () => {}) {
  const { exports: core } = await startCore(module, shareDone);
  let page = 0, opened = null;

  const putFile = (name, text) => {
    const bytes = typeof text === 'string' ? encoder.encode(text) : text, at = put(core, bytes);
    try {
      if (!withTexts(core, [name], (n) => core.vs_page_put_file(n, at, bytes.length))) throw new Error('no room for ' + name);
    } finally { core.free(at); }
  };
  for (const [name, text] of Object.entries(files)) putFile(name, text);
  const getFile = (name) => withTexts(core, [name], (n) => {
    const length = core.malloc(4), at = core.vs_page_get_file(n, length);
    const count = new DataView(core.memory.buffer).getUint32(length, true);
    core.free(length);
    return at ? new TextDecoder().decode(new Uint8Array(core.memory.buffer, at, count)) : null;
  });

  // The scene, read once for as many questions as are asked of it. What is wrong with it, or none.
  const close = () => {
    if (page) core.vs_page_close(page);
    page = 0;
    opened = null;
  };
  const open = (scene) => {
    if (opened === scene) return [];
    close();
    putFile(NAME, scene); // for commands that write it changed
    const bytes = encoder.encode(scene), at = put(core, bytes);
    try { page = withTexts(core, [NAME], (n) => core.vs_page_open(at, bytes.length, n)); } finally { core.free(at); }
    if (page) { opened = scene; return []; }
    const { faults } = JSON.parse(textAt(core, core.vs_page_faults()));
    return faults.length ? faults : [{ where: '', text: 'the scene could not be read' }];
  };
  const mustOpen = (scene) => {
    const [fault] = open(scene);
    if (fault) throw new Error(`${fault.where}: ${fault.text}`);
  };
  const say = (text) => (text ?? '').replaceAll('veilstop: ', '').replaceAll(NAME + ':', '').trim();
  const run = (words) => {
    const status = withTexts(core, [words.map((w) => w + '\0').join('') + '\0'], (list) => core.vs_page_run(page, list));
    const text = textAt(core, core.vs_page_answer(page));
    return { status, answer: text && status < 2 ? JSON.parse(text) : null, said: say(textAt(core, core.vs_page_messages(page))) };
  };

  const putDoubles = (list) => put(core, new Uint8Array(Float64Array.from(list).buffer));
  const putGrey = (grey) => (grey ? putDoubles([grey.x, grey.y, grey.nits ?? NaN]) : 0);

  return {
    // Bytes of memory that the core has taken.
    memory: () => core.memory.buffer.byteLength,
    // A file that scenes may name; the scene in hand is read anew with it.
    file: ({ name, text }) => { putFile(name, text); close(); return true; },
    // What is wrong with a scene: [{ where, text }], none where it is one.
    check: ({ scene }) => open(scene),
    // A command as on the command line: { status, answer, said, written }. options: ['shot=1 wide'].
    run: ({ command, scene = opened, options = [], written = [] }) => {
      mustOpen(scene);
      const words = options.flatMap((o) => { const [name, ...value] = o.split('='); return [`--${name}`, ...(value.length ? [value.join('=')] : [])]; });
      return { ...run([command, ...words, '--json']), written: Object.fromEntries(written.map((name) => [name, getFile(name)])) };
    },
    // One shot at a density in its camera's room [1/m]; null: the shot's own.
    predict: ({ scene, shot, extinction = null }) => {
      mustOpen(scene);
      const text = textAt(core, core.vs_page_predict(page, shot, extinction ?? NaN));
      if (!text) throw new Error('this shot could not be worked out');
      return JSON.parse(text);
    },
    // A photo in a shot's haze, its camera the shot's: R G B A in and out.
    // grey: a patch whose light is known, { x, y } in pixels, { nits } where it was metered, else a grey card.
    scouted: ({ scene, shot, extinction = null, width, height, photo, grey = null }) => {
      mustOpen(scene);
      const given = put(core, photo), told = putGrey(grey);
      try {
        const at = core.vs_page_scouted(page, shot, extinction ?? NaN, width, height, given, told);
        if (!at) throw new Error('the haze could not be put into the photo');
        return { width, height, pixels: new Uint8ClampedArray(core.memory.buffer, at, 4 * width * height).slice() };
      } finally { core.free(given); if (told) core.free(told); }
    },
    // Why a patch cannot tell how a photo was exposed; null where it can.
    scoutGrey: ({ scene, shot, width, height, photo, grey }) => {
      mustOpen(scene);
      const given = put(core, photo), told = putGrey(grey);
      try {
        const good = core.vs_page_scout_grey(page, shot, width, height, given, told);
        if (good === -2) throw new Error('out of memory');
        return { 1: null, 0: 'it is too near the edge of the photo', [-1]: 'it is clipped or black in the photo' }[good];
      } finally { core.free(given); core.free(told); }
    },
    // A shot's picture as a display shows it: { width, height, pixels }, R G B A. fine false: coarse, at
    // once. grade: { slope, offset } in linear light.
    picture: ({ scene, shot, extinction = null, width, height, fine = true, grade = null }) => {
      mustOpen(scene);
      const given = grade ? putDoubles([...grade.slope, ...grade.offset]) : 0;
      try {
        const at = core.vs_page_picture(page, shot, extinction ?? NaN, width, height, fine ? 1 : 0, given);
        if (!at) throw new Error('the view could not be worked out');
        return { width, height, pixels: new Uint8ClampedArray(core.memory.buffer, at, 4 * width * height).slice() };
      } finally { if (given) core.free(given); }
    },
  };
}
