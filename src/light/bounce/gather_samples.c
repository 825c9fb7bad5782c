/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight samples of one segment of a line of sight stand side by side. */
#include "light/bounce/gather_samples.h"

#include "base/growable.h"

vs_gather_samples *vs_gather_add_eight(vs_gather_light *light, size_t segment, size_t source) {
    vs_gather_samples *list =
        vs_growable_reserve(light->samples, light->count, &light->size, sizeof *light->samples);
    if (!list) {
        return NULL;
    }
    vs_gather_samples *eight = &list[light->count++];
    const vs_gather_samples blank = {.segment = (uint32_t)segment};
    *eight = blank;
    for (int l = 0; l < LANES; l++) {
        eight->source[l] = (uint32_t)source;
    }
    light->samples = list;
    light->begun = 0;
    return eight;
}

vs_status vs_gather_add_sample(vs_gather_light *light, size_t segment, size_t source,
                               const vs_gather_sample *sample) {
    vs_gather_samples *to = light->begun > 0 ? &light->samples[light->count - 1] : NULL;
    if (!to || to->segment != segment) {
        to = vs_gather_add_eight(light, segment, source);
    }
    if (!to) {
        return VS_ERR_MEMORY;
    }
    size_t l = light->begun;
    light->begun = (l + 1) % LANES;
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
