// SPDX-License-Identifier: GPL-3.0-or-later
// The scene on the page, with undo and redo, and who is told of changes. A scene is the plain object of
// its file and is never changed in place: each change makes a new one.
const STEPS = 200; // kept for undo: our choice

// tidy: mends what a change leaves behind, on the copy.
export function createStore(scene, tidy = (s) => s) {
  let now = scene, past = [], future = [], grouped = null;
  const heard = new Set();
  const tell = () => heard.forEach((f) => f());

  const store = {
    get scene() { return now; },
    get undoLabel() { return past.at(-1)?.label ?? null; },
    get redoLabel() { return future.at(-1)?.label ?? null; },
    subscribe(f) { heard.add(f); return () => heard.delete(f); },

    // edit: changes a copy, or gives a new scene. Changes of one group (a drag) are one step.
    change(label, edit, group = null) {
      const copy = structuredClone(now);
      const next = tidy(edit(copy) ?? copy);
      if (JSON.stringify(next) === JSON.stringify(now)) return;
      if (group === null || group !== grouped) {
        past.push({ label, scene: now });
        if (past.length > STEPS) past.shift();
      }
      grouped = group;
      future = [];
      now = next;
      tell();
    },
    endGroup() { grouped = null; },
    // The step under way as if it had not been.
    putBack(group) {
      if (group === null || grouped !== group) return;
      now = past.pop().scene;
      grouped = null;
      tell();
    },
    undo() {
      const step = past.pop();
      if (!step) return;
      future.push({ label: step.label, scene: now });
      now = step.scene;
      grouped = null;
      tell();
    },
    redo() {
      const step = future.pop();
      if (!step) return;
      past.push({ label: step.label, scene: now });
      now = step.scene;
      grouped = null;
      tell();
    },
    // Another scene; the old one stays an undo away.
    replace(label, scene) {
      past.push({ label, scene: now });
      future = [];
      grouped = null;
      now = scene;
      tell();
    },
  };
  return store;
}
