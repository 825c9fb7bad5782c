/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a line of sight or a place sees of emitters' own sources, their pools and beams, as samples.
 * Private to src/light/bounce. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_LIGHTS_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_LIGHTS_H

#include "light/bounce/gather.h"

/* `count` more eights on a segment, worth nothing yet.  NULL: no memory. */
static inline vs_gather_samples *vs_gather_add_samples(vs_gather_sample_list *list, size_t segment,
                                                       size_t count) {
    const vs_gather_samples blank = {.segment = (uint32_t)segment};
    vs_gather_samples *eight = vs_list_add_many(VS_ANY_LIST(list), count);
    for (size_t i = 0; i < count && eight; i++) {
        eight[i] = blank;
    }
    return eight;
}

/* Appends samples of an emitter's thin beams: light scattered twice, or once onto a surface.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_beams_seen(const vs_gather *gather, const vs_traced *traced,
                                       vs_gather_light *light);

/* Appends samples of a line's light scattered once; their narrow or wide path, as the emitter's
 * light is split, is that from the emitter.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_straight_on_seen(const vs_gather *gather, const vs_traced *traced,
                                             vs_gather_light *light);

/* Finds the pools that count by themselves, of those emitters whose light is looked for, and notes
 * which are therefore left out of their patches.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_pools_seen(vs_gather *gather, const vs_traced *traced);

#endif
