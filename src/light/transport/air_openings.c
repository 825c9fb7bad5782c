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
    const vs_throughs *cells = &air->behind.air, *patches = &radiosity->behind.air;
    size_t sides = vs_side_count(air->mesh) * LANES;
    *o = fresh;
    o->to_cell = calloc(cells->side_count * VS_AIR_MOMENTS + 1, sizeof *o->to_cell);
    o->to_patch = calloc(patches->side_count * LANES + 1, sizeof *o->to_patch);
    o->got = calloc(3 * sides + 1, sizeof *o->got);
    o->onward = calloc(patches->side_count + 1, sizeof *o->onward);
    if (!o->to_cell || !o->to_patch || !o->got || !o->onward) {
        vs_air_openings_free(o);
        return VS_ERR_MEMORY;
    }
    for (size_t n = 0; n < patches->side_count; n++) {
        if (air->mesh->patch[patches->side[n].row].opening != VS_MESH_NONE) {
            o->onward[o->onward_count++] = n;
        }
    }
    o->scale = o->got + sides;
    o->all = o->scale + sides;
    return VS_OK;
}

void vs_air_openings_free(vs_air_openings *o) {
    const vs_air_openings blank = {0};
    free(o->to_cell);
    free(o->to_patch);
    free(o->got);
    free(o->onward);
    *o = blank;
}

/* What a cell takes of light that falls on it [m2].
 *     seen  what it sees */
static double cell_takes_m2(const vs_air *air, const vs_air_work *work,
                            const vs_row_through *seen) {
    size_t room = seen->room[0];
    return work->k_per_m[room] * vs_mesh_cell_volume_m3(&air->mesh->cells[room]);
}

void vs_air_openings_dim(const vs_air *air, const vs_air_work *work, vs_radiosity_work *solving) {
    for (size_t i = 0; i < air->behind.patches.count; i++) {
        const vs_row_through *t = &air->behind.patches.item[i];
        solving->seen_m2[t->side * air->mesh->patch_count + t->seen] +=
            cell_takes_m2(air, work, t) * work->through[i] / VS_PI;
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

/* The light of air in the direction of a row, never below zero. */
LANES_INLINE void look_at_air(const vs_throughs *through, size_t item, const float *seen, float by,
                              int count, float light[LANES]) {
    const float *from = seen + through->seen[item] * VS_AIR_MOMENTS;
    const float *harmonic = through->item[item].harmonic;
    float sum[LANES] = {0};
    for (int n = 0; n < count; n++) {
        EACH_LANE(l) {
            sum[l] += harmonic[n] * from[n * LANES + l];
        }
    }
    EACH_LANE(l) {
        light[l] = sum[l] > 0 ? by * sum[l] : 0;
    }
}

LANES_INLINE void add_got(const vs_air_openings *o, const vs_row_side *t, double takes_m2,
                          const float *light) {
    double *got = o->got + (size_t)t->side * LANES;
    EACH_LANE(l) {
        got[l] += takes_m2 * (double)light[l];
    }
}

/* What cells see, and what they take of it [lm]. */
LANES_INLINE void look_from_cells(const vs_air_openings *o, const float *seen, int count) {
    const vs_throughs *through = &o->air->behind.air;
    for (size_t n = 0; n < through->side_count; n++) {
        const vs_row_side *t = &through->side[n];
        float sum[LANES] = {0}, moment[VS_AIR_MOMENTS] = {0};
        for (size_t i = t->first; i < t->end; i++) {
            float light[LANES];
            look_at_air(through, i, seen, (float)o->work->through_air[i], count, light);
            vs_air_add(through->item[i].harmonic, light, count, moment);
            EACH_LANE(l) {
                sum[l] += light[l];
            }
        }
        memcpy(o->to_cell + n * VS_AIR_MOMENTS, moment, (size_t)count * LANES * sizeof *moment);
        add_got(o, t, cell_takes_m2(o->air, o->work, &through->item[t->first]), sum);
    }
}

/* What patches see, likewise. */
LANES_INLINE void look_from_patches(const vs_air_openings *o, const float *seen, int count) {
    const vs_throughs *through = &o->radiosity->behind.air;
    for (size_t n = 0; n < through->side_count; n++) {
        const vs_row_side *t = &through->side[n];
        const vs_patch *patch = &o->air->mesh->patch[t->row];
        float *sum = o->to_patch + n * LANES, all[LANES] = {0};
        for (size_t i = t->first; i < t->end; i++) {
            float light[LANES];
            look_at_air(through, i, seen, (float)o->solving->through_air[i], count, light);
            EACH_LANE(l) {
                all[l] += light[l];
            }
        }
        memcpy(sum, all, sizeof all);
        add_got(o, t, VS_PI * patch->area_m2 * patch->presence, all);
    }
}

/* Adds what comes to openings by way of those of their rooms, as those are scaled. */
static void add_onward(const vs_air_openings *o) {
    const vs_mesh *mesh = o->air->mesh;
    for (size_t n = 0; n < o->onward_count; n++) {
        const vs_row_side *t = &o->radiosity->behind.air.side[o->onward[n]];
        const float *light = o->to_patch + o->onward[n] * LANES;
        const vs_patch *row = &mesh->patch[t->row];
        const vs_opening *on = &mesh->space->opening[row->opening];
        size_t to = vs_opening_side(mesh->space, row->opening, vs_opening_beyond(on, row->room));
        double by = VS_PI * row->area_m2 * on->transmittance;
        for (size_t l = 0; l < LANES; l++) {
            o->all[to * LANES + l] += by * o->scale[(size_t)t->side * LANES + l] * (double)light[l];
        }
    }
}

/* All that comes to an opening over all that rows get of it. */
static void find_scales(const vs_air_openings *o, const double *lumens) {
    size_t sides = vs_side_count(o->air->mesh) * LANES;
    memcpy(o->all, lumens, sides * sizeof *o->all);
    for (int n = 0; n <= (o->onward_count > 0 ? ONWARD : 0); n++) {
        for (size_t i = 0; i < sides; i++) {
            o->scale[i] = o->got[i] > 0 ? o->all[i] / o->got[i] : 0;
        }
        memcpy(o->all, lumens, sides * sizeof *o->all);
        add_onward(o);
    }
}

/* Adds what rows see, scaled: cells to their moments, patches to `behind`. */
LANES_INLINE void add_seen(const vs_air_openings *o, int count, float *moment, double *behind) {
    const vs_throughs *cells = &o->air->behind.air, *patches = &o->radiosity->behind.air;
    for (size_t n = 0; n < cells->side_count; n++) {
        const vs_row_side *t = &cells->side[n];
        const double *scale = o->scale + (size_t)t->side * LANES;
        const float *seen = o->to_cell + n * VS_AIR_MOMENTS;
        float *to = moment + t->row * VS_AIR_MOMENTS, by[LANES];
        EACH_LANE(l) {
            by[l] = (float)scale[l];
        }
        for (int i = 0; i < count; i++) {
            EACH_LANE(l) {
                to[i * LANES + l] += by[l] * seen[i * LANES + l];
            }
        }
    }
    for (size_t n = 0; n < patches->side_count; n++) {
        const vs_row_side *t = &patches->side[n];
        const double *scale = o->scale + (size_t)t->side * LANES;
        const float *seen = o->to_patch + n * LANES;
        double *to = behind + (size_t)t->row * LANES;
        EACH_LANE(l) {
            to[l] += scale[l] * (double)seen[l];
        }
    }
}

LANES_CLONES void vs_air_look_through(const vs_air_openings *o, const float *seen, int order,
                                      const double *lumens, float *moment, double *behind) {
    const vs_mesh *mesh = o->air->mesh;
    if (vs_side_count(mesh) == 0) {
        return;
    }
    memset(o->got, 0, vs_side_count(mesh) * LANES * sizeof *o->got);
    memset(behind, 0, mesh->patch_count * LANES * sizeof *behind);
    BY_ORDER(order, look_from_cells(o, seen, count))
    BY_ORDER(order, look_from_patches(o, seen, count))
    find_scales(o, lumens);
    BY_ORDER(order, add_seen(o, count, moment, behind))
}
