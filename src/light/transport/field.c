/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See field.h. */
#include "light/transport/field.h"

#include <stdlib.h>

#include "base/arrays.h"

vs_status vs_field_init(vs_field *f, const vs_mesh *mesh, const vs_tracing *tracing) {
    const vs_field blank = {0};
    size_t patches = mesh->patch_count * VS_BAND_COUNT;
    *f = blank;
    const vs_array arrays[] = {VS_ARRAY(f->nits, patches),
                               VS_ARRAY(f->pooled_nits, patches),
                               VS_ARRAY(f->air_lux, patches),
                               VS_ARRAY(f->once_lux, patches),
                               VS_ARRAY(f->pool_cd, tracing->pool_count * VS_BAND_COUNT),
                               VS_ARRAY(f->cell, mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT)};
    f->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    return f->block ? VS_OK : VS_ERR_MEMORY;
}

void vs_field_free(vs_field *f) {
    const vs_field blank = {0};
    free(f->block);
    *f = blank;
}

vs_status vs_even_light_init(vs_even_light *even, const vs_mesh *mesh) {
    const vs_array arrays[] = {VS_ARRAY(even->cell, mesh->cell_count * VS_BAND_COUNT * VS_SH_COUNT),
                               VS_ARRAY(even->patch, mesh->patch_count * VS_BAND_COUNT)};
    even->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    return even->block ? VS_OK : VS_ERR_MEMORY;
}

void vs_even_light_free(vs_even_light *even) {
    const vs_even_light blank = {0};
    free(even->block);
    *even = blank;
}
