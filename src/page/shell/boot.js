// SPDX-License-Identifier: GPL-3.0-or-later
// The first lines that run: the page's own code is unpacked and begun.
const chars = atob(document.getElementById('code').textContent), packed = new Uint8Array(chars.length);
for (let i = 0; i < chars.length; i++) packed[i] = chars.charCodeAt(i);
new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'))).arrayBuffer().then((code) => {
  const script = document.createElement('script');
  script.src = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
  document.head.append(script);
}).catch((e) => { document.getElementById('app').textContent = `veilstop could not start: ${e.message}`; });
