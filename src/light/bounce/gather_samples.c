/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight samples of one segment of a line of sight stand side by side. */
#include "light/bounce/gather_samples.h"

#include "base/growable.h"

/* Eight more samples on a segment, or those begun.  NULL: no memory. */
static vs_gather_samples *samples_on(vs_gather_light *light, size_t segment) {
    vs_gather_samples *last = light->count > 0 ? &light->samples[light->count - 1] : NULL;
    if (!light->full && last && last->segment == segment && last->count < LANES) {
        return last;
    }
    vs_gather_samples *list =
        vs_growable_reserve(light->samples, light->count, &light->size, sizeof *light->samples);
    if (!list) {
        return NULL;
    }
    const vs_gather_samples fresh = {.segment = (uint32_t)segment};
    light->samples = list;
    light->full = false;
    light->samples[light->count] = fresh;
    return &light->samples[light->count++];
}

vs_status vs_gather_add_sample(vs_gather_light *light, size_t segment, size_t source,
                               const vs_gather_sample *sample) {
    vs_gather_samples *to = samples_on(light, segment);
    if (!to) {
        return VS_ERR_MEMORY;
    }
    size_t l = to->count++;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        to->worth[band][l] = sample->worth[band];
    }
    to->plain_m[l] = sample->plain_m;
    to->narrow_m[l] = sample->narrow_m;
    to->wide_m[l] = sample->wide_m;
    to->source[l] = (uint32_t)source;
    return VS_OK;
}

vs_status vs_gather_leave_out(vs_gather_light *light, vs_gather_left_out left_out) {
    vs_gather_left_out *list = vs_growable_reserve(light->left_out, light->left_out_count,
                                                   &light->left_out_size, sizeof *light->left_out);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    light->left_out = list;
    light->left_out[light->left_out_count++] = left_out;
    return VS_OK;
}
