// SPDX-License-Identifier: GPL-3.0-or-later
// Files out of the page and into it. A browser does not tell whether a download was kept, so none is called
// saved.
export function handOver(name, text, type = 'application/json') {
  const url = URL.createObjectURL(new Blob([text], { type })), link = document.createElement('a');
  link.href = url;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}
// The text of a chosen file, up to what the core takes (4 MiB).
export async function textOf(file) {
  if (file.size > 4 * 1024 * 1024) return { why: 'it is longer than 4 MiB' };
  return { text: await file.text() };
}
// A file name of a title and the day: "the-cellar 2026-03-01.json".
export function nameFor(title, date = new Date()) {
  const pad = (n) => String(n).padStart(2, '0');
  const words = (title ?? 'scene').split(':')[0].toLowerCase().replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-+|-+$/g, '') || 'scene';
  return `${words} ${date.getFullYear()}-${pad(date.getMonth() + 1)}-${pad(date.getDate())}.json`;
}

// Of chosen files the scene and the lamps' (LM-63 by its name's end). { scene, lamps: [[name, text]] }, or why.
export async function filesOf(list) {
  const out = { scene: null, lamps: [] };
  for (const file of list) {
    const { text, why } = await textOf(file);
    if (why) return { why: `${file.name} cannot be opened: ${why}.` };
    if (/\.ies$/i.test(file.name)) out.lamps.push([file.name, text]);
    else if (out.scene) return { why: `${out.scene.name} and ${file.name}: one scene at a time, with the files of its lamps.` };
    else out.scene = { name: file.name, text };
  }
  return out;
}
