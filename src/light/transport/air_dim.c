/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A room's exchanges are scaled so that they are exact for uniform light (Hottel & Sarofim 1967,
 * ch. 7; Sinkhorn 1967, Am. Math. Mon. 74, 402): each patch receives from cells what haze takes of
 * the light on its way to it, and each cell sends all that it scatters. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "base/lanes.h"
#include "base/single.h"
#include "light/transport/air_hand.h"

#define BALANCINGS 4 /* of exchanges; sums are then within 1e-4 */

/* ---- memory ---- */

/* Cells of the room that an opening's side sees. */
static size_t side_cells(const vs_mesh *mesh, size_t side) {
    size_t room = vs_side_beyond(mesh, side);
    return room == VS_SPACE_OUTSIDE ? 0 : vs_mesh_cell_count(&mesh->cells[room]);
}

vs_status vs_air_work_init(vs_air_work *work, const vs_air *air) {
    const vs_air_work blank = {0};
    size_t cells = air->mesh->cell_count, sides = vs_side_count(air->mesh), rows = 0;
    for (size_t side = 0; side < sides; side++) {
        rows += side_cells(air->mesh, side);
    }
    *work = blank;
    const vs_array arrays[] = {VS_ARRAY(work->to_patch, air->solid_count),
                               VS_ARRAY(work->to_cell, air->pair_count),
                               VS_ARRAY(work->whole, cells * VS_SH_COUNT),
                               VS_ARRAY(work->passes, air->offset_count),
                               VS_ARRAY(work->through, air->behind.patches.count),
                               VS_ARRAY(work->through_air, air->behind.air.count),
                               VS_ARRAY(work->side_first, sides + 1),
                               VS_ARRAY(work->to_side, rows * VS_SH_COUNT),
                               VS_ARRAY(work->k_per_m, air->mesh->space->room_count),
                               VS_ARRAY(work->even, cells * VS_SH_COUNT),
                               VS_ARRAY(work->more, cells * VS_AIR_MOMENTS),
                               VS_ARRAY(work->scratch, 4 * (cells + air->stride_most))};
    work->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    for (size_t side = 0; side < sides && work->block; side++) {
        work->side_first[side + 1] = work->side_first[side] + side_cells(air->mesh, side);
    }
    return work->block ? VS_OK : VS_ERR_MEMORY;
}

void vs_air_work_free(vs_air_work *work) {
    const vs_air_work blank = {0};
    free(work->block);
    *work = blank;
}

/* ---- the room being worked on ---- */

vs_air_hand vs_air_take(const vs_air *air, const vs_air_work *work, size_t room) {
    const vs_air_room *r = &air->room[room];
    const vs_cell_grid *g = &air->mesh->cells[room];
    vs_air_hand h = {.r = r,
                     .cell_first = g->first,
                     .cell_count = vs_mesh_cell_count(g),
                     .volume_m3 = vs_mesh_cell_volume_m3(g),
                     .k_per_m = work->k_per_m[room],
                     .solid_sr = air->solid_sr + r->solid_first,
                     .away_m = air->away_m + r->solid_first,
                     .to_patch = work->to_patch + r->solid_first,
                     .to_cell = work->to_cell + r->pair_first,
                     .offset = air->offset + r->offset_first,
                     .passes = work->passes + r->offset_first};
    for (int axis = 0; axis < 3; axis++) {
        h.count[axis] = g->count[axis];
        h.to[axis] = air->to[axis] + r->solid_first;
    }
    return h;
}

/* ---- exchanges in a haze ---- */

LANES_INLINE double weighed_sum(const float *a, const double *b, size_t count) {
    double sum[LANES] = {0};
    for (size_t n = 0; n < count; n += LANES) {
        EACH_LANE(l) {
            sum[l] += (double)a[n + (size_t)l] * b[n + (size_t)l];
        }
    }
    return lanes_sum(sum);
}

/* The same for rows that are not whole lanes. */
LANES_INLINE double dot_row(const float *a, const double *b, size_t count) {
    size_t whole = count / LANES * LANES;
    double rest = 0;
    for (size_t n = whole; n < count; n++) {
        rest += (double)a[n] * b[n];
    }
    return weighed_sum(a, b, whole) + rest;
}

LANES_INLINE void add_weighed(const float *a, double by, size_t count, double *sum) {
    for (size_t n = 0; n < count; n += LANES) {
        EACH_LANE(l) {
            sum[n + (size_t)l] += (double)a[n + (size_t)l] * by;
        }
    }
}

/* What comes from cells to patches. taken: out, what haze takes of what each cell sends [sr] */
LANES_INLINE void dim_patches(const vs_air *air, const vs_air_hand *h, double *taken) {
    for (size_t c = 0; c < h->cell_count; c++) {
        const float *solid_sr = h->solid_sr + c * h->r->stride;
        const float *away_m = h->away_m + c * h->r->stride;
        float *out = h->to_patch + c * h->r->stride;
        double sum[LANES] = {0};
        for (size_t p = 0; p < h->r->stride; p += LANES) {
            double presence[LANES] = {0};
            for (size_t l = 0; l < LANES && p + l < h->r->patch_count; l++) {
                presence[l] = air->mesh->patch[h->r->patch_first + p + l].presence;
            }
            EACH_LANE(l) {
                double passes = lane_exp(-h->k_per_m * (double)away_m[p + (size_t)l]);
                double sr = (double)solid_sr[p + (size_t)l];
                out[p + (size_t)l] = (float)(sr * passes);
                sum[l] += sr * presence[l] * (1 - passes);
            }
        }
        taken[c] = lanes_sum(sum);
    }
}

/* Scales rows and columns of what comes from cells to patches.
 *     row, column  what they sum to;  by_row, by_column  out */
LANES_INLINE void scale_patches(const vs_air_hand *h, const double *presence, const double *row,
                                const double *column, double *by_row, double *by_column,
                                double *sum) {
    size_t stride = h->r->stride;
    for (size_t c = 0; c < h->cell_count; c++) {
        by_row[c] = 1;
    }
    for (int n = 0; n < BALANCINGS; n++) {
        for (size_t p = 0; p < stride; p++) {
            sum[p] = 0;
        }
        for (size_t c = 0; c < h->cell_count; c++) {
            add_weighed(h->to_patch + c * stride, by_row[c], stride, sum);
        }
        for (size_t p = 0; p < stride; p++) {
            by_column[p] = sum[p] > 0 ? column[p] / sum[p] : 0;
            sum[p] = by_column[p] * presence[p];
        }
        for (size_t c = 0; c < h->cell_count && n < BALANCINGS - 1; c++) {
            double whole = weighed_sum(h->to_patch + c * stride, sum, stride);
            by_row[c] = whole > 0 ? row[c] / whole : 0;
        }
    }
    for (size_t c = 0; c < h->cell_count; c++) {
        for (size_t p = 0; p < stride; p++) {
            double to_patch =
                (double)h->to_patch[c * stride + p]; /* the scales may be over FLT_MAX */
            h->to_patch[c * stride + p] = (float)(to_patch * by_row[c] * by_column[p]);
        }
    }
}

/* What comes from cells to cells, before it is scaled: the same both ways. */
LANES_INLINE void dim_cells(const vs_air *air, const vs_air_hand *h) {
    const float *open = air->open + h->r->pair_first;
    for (size_t c = 0; c < h->cell_count; c++) {
        float *out = h->to_cell + c * h->cell_count;
        for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
            const float *passes = h->passes + vs_air_offset_of(h, c, i);
            for (size_t x = 0; x < h->count[0]; x++) {
                out[i + x] = passes[x];
            }
        }
        for (size_t i = 0; i < h->cell_count && h->r->blocked; i++) {
            out[i] *= open[c * h->cell_count + i];
        }
    }
}

/* Scales what comes from cells to cells so that each row sums to what haze takes of a cell's light.
 *     by, was  scratch, one a cell */
LANES_INLINE void scale_cells(const vs_air_hand *h, const double *taken, double *by, double *was) {
    double per = h->k_per_m * h->volume_m3;
    size_t count = h->cell_count;
    for (size_t c = 0; c < count; c++) {
        by[c] = 1;
    }
    for (int n = 0; n < BALANCINGS; n++) {
        for (size_t c = 0; c < count; c++) {
            was[c] = by[c];
        }
        for (size_t c = 0; c < count; c++) {
            double sum = per * was[c] * dot_row(h->to_cell + c * count, was, count);
            by[c] = sum > 0 ? was[c] * sqrt(taken[c] / sum) : 0;
        }
    }
    for (size_t c = 0; c < count; c++) {
        for (size_t i = 0; i < count; i++) {
            h->to_cell[c * count + i] = (float)((double)h->to_cell[c * count + i] * by[c] * by[i]);
        }
    }
}

/* Of a source's harmonics, what comes to patches. */
LANES_INLINE void sum_to_patches(const vs_air_hand *h, size_t cell, const double *presence,
                                 float whole[VS_SH_COUNT]) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    float sum[VS_SH_COUNT][LANES] = {{0}};
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES], light[LANES];
        vs_air_sh(h, cell * h->r->stride + p, VS_SH_COUNT, harmonic);
        EACH_LANE(l) {
            light[l] = to_patch[p + (size_t)l] * (float)presence[p + (size_t)l];
        }
        for (int n = 0; n < VS_SH_COUNT; n++) {
            EACH_LANE(l) {
                sum[n][l] += light[l] * harmonic[n][l];
            }
        }
    }
    for (int n = 0; n < VS_SH_COUNT; n++) {
        whole[n] = single_sum(sum[n]);
    }
}

/* And what comes to cells. */
LANES_INLINE void sum_to_cells(const vs_air *air, const vs_air_hand *h, size_t cell,
                               float even[VS_SH_COUNT]) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    float per = (float)(h->k_per_m * h->volume_m3), sum[VS_SH_COUNT] = {0};
    for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
        const vs_air_offset *offset = h->offset + vs_air_offset_of(h, cell, i);
        for (size_t x = 0; x < h->count[0]; x++, offset++) {
            float share = per * to_cell[i + x] * offset->direction_share;
            for (size_t w = 0; w < offset->direction_count; w++) {
                const float *harmonic = air->direction[offset->direction_first + w].harmonic;
                for (int n = 0; n < VS_SH_COUNT; n++) {
                    sum[n] += share * harmonic[n];
                }
            }
        }
    }
    memcpy(even, sum, sizeof sum);
}

/* What comes to patches and cells; and what comes to the cell of others in even light. */
LANES_INLINE void sum_whole(const vs_air *air, const vs_air_hand *h, size_t cell,
                            const double *presence, float *whole, float *even) {
    sum_to_patches(h, cell, presence, whole);
    sum_to_cells(air, h, cell, even);
    for (int n = 0; n < VS_SH_COUNT; n++) {
        whole[n] += even[n];
        even[n] *= vs_air_turned(n);
    }
}

/* Of a source's harmonics, what comes to an opening of its room. */
LANES_INLINE void sum_to_side(const vs_air *air, const vs_air_hand *h, size_t opening, float *out) {
    const vs_patch *patch = air->mesh->patch + h->r->patch_first;
    float transmittance = (float)air->mesh->space->opening[opening].transmittance;
    memset(out, 0, h->cell_count * VS_SH_COUNT * sizeof *out);
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float is[LANES] = {0}, any = 0;
        for (size_t l = 0; l < LANES && p + l < h->r->patch_count; l++) {
            is[l] = patch[p + l].opening == opening ? transmittance : 0;
            any += is[l];
        }
        for (size_t c = 0; c < h->cell_count && any > 0; c++) {
            const float *to_patch = h->to_patch + c * h->r->stride + p;
            float harmonic[VS_SH_COUNT][LANES];
            vs_air_sh(h, c * h->r->stride + p, VS_SH_COUNT, harmonic);
            for (size_t n = 0; n < VS_SH_COUNT; n++) {
                EACH_LANE(l) {
                    harmonic[n][l] *= is[l] * to_patch[l];
                }
                out[c * VS_SH_COUNT + n] += single_sum(harmonic[n]);
            }
        }
    }
}

/* One room. What haze takes of light between cells and patches is known twice: from patches, and
 * from cells' middles, where it is more than the mean over the cells. */
LANES_INLINE void dim_room(const vs_air *air, const vs_air_hand *h, const double *taken_by_patch,
                           vs_air_work *work, size_t room) {
    double *taken = work->scratch, *row = taken + h->cell_count, *by = row + h->cell_count;
    double *column = by + h->cell_count, *by_column = column + h->r->stride;
    double *presence = by_column + h->r->stride, *sum = presence + h->r->stride;
    double by_cells = 0, by_patches = 0, per = h->k_per_m * h->volume_m3;
    dim_patches(air, h, taken);
    for (size_t p = 0; p < h->r->stride; p++) {
        bool is = p < h->r->patch_count;
        const vs_patch *patch = &air->mesh->patch[h->r->patch_first + (is ? p : 0)];
        presence[p] = is ? patch->presence : 0;
        column[p] = is ? VS_PI * patch->area_m2 * taken_by_patch[h->r->patch_first + p] / per : 0;
        by_patches += presence[p] * column[p];
    }
    for (size_t c = 0; c < h->cell_count; c++) {
        by_cells += taken[c];
    }
    double scale = (4 * VS_PI * (double)h->cell_count - by_patches) / by_cells;
    for (size_t c = 0; c < h->cell_count; c++) {
        taken[c] *= scale;
        row[c] = 4 * VS_PI - taken[c];
    }
    scale_patches(h, presence, row, column, by, by_column, sum);
    dim_cells(air, h);
    scale_cells(h, taken, by, row);
    for (size_t c = 0; c < h->cell_count; c++) {
        size_t first = (h->cell_first + c) * VS_SH_COUNT;
        sum_whole(air, h, c, presence, work->whole + first, work->even + first);
    }
    for (size_t side = 0; side < vs_side_count(air->mesh); side++) {
        if (vs_side_beyond(air->mesh, side) == room) {
            sum_to_side(air, h, vs_side_opening(side),
                        work->to_side + work->side_first[side] * VS_SH_COUNT);
        }
    }
}

LANES_CLONES void vs_air_dim(const vs_air *air, const double *room_extinction_per_m, double rate,
                             const double *taken, vs_air_work *work) {
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        work->k_per_m[room] = rate * room_extinction_per_m[room];
        vs_air_hand h = vs_air_take(air, work, room);
        size_t offsets = h.r->offsets[0] * h.r->offsets[1] * h.r->offsets[2];
        for (size_t i = 0; i < offsets && h.k_per_m > 0; i++) {
            h.passes[i] = (float)(h.offset[i].per_m2 * lane_exp(-h.k_per_m * h.offset[i].away_m));
        }
        memset(work->even + h.cell_first * VS_SH_COUNT, 0,
               h.cell_count * VS_SH_COUNT * sizeof *work->even);
        if (h.k_per_m > 0) {
            dim_room(air, &h, taken, work, room);
        }
    }
    vs_throughs_dim(&air->behind.patches, room_extinction_per_m, rate, work->through);
    vs_throughs_dim(&air->behind.air, room_extinction_per_m, rate, work->through_air);
}
