/* Light of a lamp that haze scatters once more on its way: what fills a beam in again, and the glow
 * beside it. The second order of scattering by summation, higher ones by similarity. */
#ifndef VEILSTOP_LIGHT_REFILL_H
#define VEILSTOP_LIGHT_REFILL_H

#include "veilstop/base/bands.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/radiosity.h"
#include "veilstop/light/sight.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Veils of light from each emitter of a bounce that met two droplets or more on its way to the
 *  camera, and no surface [cd/m2]; and the light that they send by way of droplets, and no surface,
 *  onto a small surface at p with unit normal [lx]. Added onto what of each is seen already.
 *  Method: on each of a few places of the line of sight the once-scattered light from all around
 *  (ways laid out about the direction to the lamp, where it is densest, and within the angle under
 *  which its beam is seen) is scattered by the phase function into the line. Higher orders: by
 *  similarity, scattering straight on taking nothing away (van de Hulst 1980, ch. 14). A surface's
 *  light is taken as from its middle. All emitters are asked roughly (about 10 %), then those well
 *  that give more than a share of all of it.
 *  bounce      of the emitters in this medium
 *  well_share  VS_REFILL_WELL_SHARE; 0: all well; INFINITY: all are left rough
 *  nits, lux   in: of each emitter what bounced; out: and refill
 *  Checked: against random walks, docs/accuracy.md and tests/unit/test_radiosity.c. */
#define VS_REFILL_WELL_SHARE 0.1 /* [1] measured: under it rough answers show in no table */
void vs_refill_add_veils(const vs_medium *medium, const vs_sight *sight, const vs_emitter *emitter,
                         const vs_bounce *bounce, double well_share, vs_bands *nits);
void vs_refill_add_lux(const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal,
                       const vs_emitter *emitter, const vs_bounce *bounce, double well_share,
                       vs_bands *lux);

#ifdef __cplusplus
}
#endif
#endif
