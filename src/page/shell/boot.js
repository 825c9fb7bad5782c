// SPDX-License-Identifier: GPL-3.0-or-later
// The first lines that run: the page's own code is unpacked and begun.
import { carried } from './packed.js';

new Response(carried('code')).arrayBuffer().then((code) => {
  const script = document.createElement('script');
  script.src = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
  document.head.append(script);
}).catch((e) => { document.getElementById('app').textContent = `veilstop could not start: ${e.message}`; });
