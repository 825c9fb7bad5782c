/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See air_openings.h. */
#include "light/transport/air_openings.h"

#include <stdlib.h>
#include <string.h>

#include "veilstop/base/units.h"

#define ONWARD 3 /* passes for light that comes to an opening by another; our choice */

vs_status vs_air_openings_init(vs_air_openings *o, const vs_air *air, const vs_air_work *work,
                               const vs_radiosity *radiosity, const vs_radiosity_work *solving) {
    const vs_air_openings fresh = {
        .air = air, .work = work, .radiosity = radiosity, .solving = solving};
    size_t rows = air->through.count + radiosity->through.count;
    size_t sides = vs_side_count(air->mesh) * LANES;
    *o = fresh;
    o->seen = calloc(rows * LANES + 1, sizeof *o->seen);
    o->got = calloc(3 * sides + 1, sizeof *o->got);
    o->onward = calloc(radiosity->through.count + 1, sizeof *o->onward);
    if (!o->seen || !o->got || !o->onward) {
        vs_air_openings_free(o);
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < radiosity->through.count; i++) {
        const vs_row_through *t = &radiosity->through.item[i];
        if (t->patch == VS_ROW_AIR && air->mesh->patch[t->row].opening != VS_MESH_NONE) {
            o->onward[o->onward_count++] = i;
        }
    }
    o->scale = o->got + sides;
    o->all = o->scale + sides;
    return VS_OK;
}

void vs_air_openings_free(vs_air_openings *o) {
    const vs_air_openings blank = {0};
    free(o->seen);
    free(o->got);
    free(o->onward);
    *o = blank;
}

/* What a cell of a row takes of light that falls on it [m2]. */
static double cell_takes_m2(const vs_air *air, const vs_air_work *work, const vs_row_through *t) {
    return work->k_per_m[t->room[0]] * vs_mesh_cell_volume_m3(&air->mesh->cells[t->room[0]]);
}

void vs_air_openings_dim(const vs_air *air, const vs_air_work *work, vs_radiosity_work *solving) {
    for (size_t i = 0; i < air->through.count; i++) {
        const vs_row_through *t = &air->through.item[i];
        if (t->patch != VS_ROW_AIR) {
            solving->seen_m2[t->side * air->mesh->patch_count + t->patch] +=
                cell_takes_m2(air, work, t) * work->through[i] / VS_PI;
        }
    }
}

LANES_CLONES void vs_air_send_out(const vs_air *air, const vs_air_work *work, const float *source,
                                  int order, double *lumens) {
    for (size_t side = 0; side < vs_side_count(air->mesh); side++) {
        const float *to = work->to_side + work->side_first[side] * VS_SH_COUNT;
        size_t cells = work->side_first[side + 1] - work->side_first[side];
        size_t first = cells > 0 ? air->mesh->cells[vs_side_beyond(air->mesh, side)].first : 0;
        for (size_t c = 0; c < cells; c++) {
            const float *from = source + (first + c) * VS_AIR_MOMENTS;
            float sum[LANES] = {0};
            for (size_t n = 0; n < vs_air_count(order); n++) {
                EACH_LANE(l) {
                    sum[l] += to[c * VS_SH_COUNT + n] * from[n * LANES + (size_t)l];
                }
            }
            EACH_LANE(l) {
                lumens[side * LANES + (size_t)l] += (double)sum[l];
            }
        }
    }
}

/* The light of a cell's air in a direction, never below zero. */
LANES_INLINE void look_at_air(const vs_row_through *t, const float *seen, int count, float by,
                              float light[LANES]) {
    const float *from = seen + t->cell * VS_AIR_MOMENTS;
    float sum[LANES] = {0};
    for (int n = 0; n < count; n++) {
        EACH_LANE(l) {
            sum[l] += t->harmonic[n] * from[n * LANES + l];
        }
    }
    EACH_LANE(l) {
        light[l] = sum[l] > 0 ? by * sum[l] : 0;
    }
}

/* What each of some rows sees, and all of them together [lm].
 *     cells  the rows are cells, else patches */
LANES_INLINE void see_air(const vs_air_openings *o, const vs_throughs *through,
                          const double *weight, bool cells, const float *seen, int count,
                          float *light) {
    for (size_t i = 0; i < through->count; i++) {
        const vs_row_through *t = &through->item[i];
        if (t->patch != VS_ROW_AIR) {
            continue;
        }
        const vs_patch *patch = &o->air->mesh->patch[cells ? 0 : t->row];
        double takes_m2 =
            cells ? cell_takes_m2(o->air, o->work, t) : VS_PI * patch->area_m2 * patch->presence;
        double *got = o->got + (size_t)t->side * LANES;
        look_at_air(t, seen, count, (float)weight[i], light + i * LANES);
        EACH_LANE(l) {
            got[l] += takes_m2 * (double)light[i * LANES + (size_t)l];
        }
    }
}

/* Adds what comes to openings by way of those of their rooms, as those are scaled. */
static void add_onward(const vs_air_openings *o, const float *light) {
    const vs_mesh *mesh = o->air->mesh;
    for (size_t n = 0; n < o->onward_count; n++) {
        size_t i = o->onward[n];
        const vs_row_through *t = &o->radiosity->through.item[i];
        const vs_patch *row = &mesh->patch[t->row];
        const vs_opening *on = &mesh->space->opening[row->opening];
        size_t to = vs_opening_side(mesh->space, row->opening, vs_opening_beyond(on, row->room));
        double by = VS_PI * row->area_m2 * on->transmittance;
        for (size_t l = 0; l < LANES; l++) {
            o->all[to * LANES + l] +=
                by * o->scale[(size_t)t->side * LANES + l] * (double)light[i * LANES + l];
        }
    }
}

/* All that comes to an opening over all that rows get of it. */
static void find_scales(const vs_air_openings *o, const double *lumens, const float *light) {
    size_t sides = vs_side_count(o->air->mesh) * LANES;
    memcpy(o->all, lumens, sides * sizeof *o->all);
    for (int n = 0; n <= (o->onward_count > 0 ? ONWARD : 0); n++) {
        for (size_t i = 0; i < sides; i++) {
            o->scale[i] = o->got[i] > 0 ? o->all[i] / o->got[i] : 0;
        }
        memcpy(o->all, lumens, sides * sizeof *o->all);
        add_onward(o, light);
    }
}

/* Adds what cells see to their moments, and what patches see to `behind`. */
LANES_INLINE void add_seen(const vs_air_openings *o, const vs_throughs *through, int count,
                           float *light, float *moment, double *behind) {
    for (size_t i = 0; i < through->count; i++) {
        const vs_row_through *t = &through->item[i];
        const double *scale = o->scale + (size_t)t->side * LANES;
        float *of = light + i * LANES;
        if (t->patch != VS_ROW_AIR) {
            continue;
        }
        EACH_LANE(l) {
            of[l] *= (float)scale[l];
        }
        if (moment) {
            vs_air_add(t->harmonic, of, count, moment + t->row * VS_AIR_MOMENTS);
            continue;
        }
        EACH_LANE(l) {
            behind[(size_t)t->row * LANES + (size_t)l] += (double)of[l];
        }
    }
}

LANES_CLONES void vs_air_look_through(const vs_air_openings *o, const float *seen, int order,
                                      const double *lumens, float *moment, double *behind) {
    const int count = (int)vs_air_count(order);
    const vs_mesh *mesh = o->air->mesh;
    const vs_throughs *cells = &o->air->through, *patches = &o->radiosity->through;
    float *by_patch = o->seen + cells->count * LANES;
    if (vs_side_count(mesh) == 0) {
        return;
    }
    memset(o->got, 0, vs_side_count(mesh) * LANES * sizeof *o->got);
    memset(behind, 0, mesh->patch_count * LANES * sizeof *behind);
    see_air(o, cells, o->work->through, true, seen, count, o->seen);
    see_air(o, patches, o->solving->through, false, seen, count, by_patch);
    find_scales(o, lumens, by_patch);
    add_seen(o, cells, count, o->seen, moment, NULL);
    add_seen(o, patches, count, by_patch, NULL, behind);
}
