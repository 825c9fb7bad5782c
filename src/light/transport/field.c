/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See field.h. */
#include "light/transport/field.h"

#include <stdlib.h>

#include "base/vector.h"

vs_status vs_field_init(vs_field *f, const vs_mesh *mesh, const vs_tracing *tracing) {
    const vs_field blank = {0};
    size_t patches = mesh->patch_count * VS_BAND_COUNT + LANES; /* read in whole lanes */
    *f = blank;
    f->nits = calloc(patches, sizeof *f->nits);
    f->pooled_nits = calloc(patches, sizeof *f->pooled_nits);
    f->air_lux = calloc(patches, sizeof *f->air_lux);
    f->once_lux = calloc(patches, sizeof *f->once_lux);
    f->pool_cd = calloc(tracing->pool_count * VS_BAND_COUNT + 1, sizeof *f->pool_cd);
    f->cell = calloc(mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT + 1, sizeof *f->cell);
    if (!f->nits || !f->pooled_nits || !f->air_lux || !f->once_lux || !f->pool_cd || !f->cell) {
        vs_field_free(f);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_field_free(vs_field *f) {
    const vs_field blank = {0};
    free(f->nits);
    free(f->pooled_nits);
    free(f->air_lux);
    free(f->once_lux);
    free(f->pool_cd);
    free(f->cell);
    *f = blank;
}

vs_status vs_even_light_init(vs_even_light *even, const vs_mesh *mesh) {
    even->cell = calloc(mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT + 1, sizeof *even->cell);
    even->patch = calloc(mesh->patch_count * VS_BAND_COUNT + 1, sizeof *even->patch);
    if (!even->cell || !even->patch) {
        vs_even_light_free(even);
        return VS_ERR_MEMORY;
    }
    return VS_OK;
}

void vs_even_light_free(vs_even_light *even) {
    const vs_even_light blank = {0};
    free(even->cell);
    free(even->patch);
    *even = blank;
}
