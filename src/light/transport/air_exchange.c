/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Per cell the source in a direction is k sum over l of (moment_l - share) sum over m of L_lm Y_lm
 * (Chandrasekhar 1950, Radiative Transfer, ch. VI). A room's exchanges are scaled so that they are
 * exact for uniform light (Hottel & Sarofim 1967, ch. 7; Sinkhorn 1967, Am. Math. Mon. 74, 402):
 * each patch receives from cells what haze takes of the light on its way to it, and each cell sends
 * all that it scatters. */
#include "light/transport/air_exchange.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "base/lanes.h"
#include "base/single.h"

/* [1] Harmonics cut off at a degree may tell that next to nothing of a narrow beam's light comes to
 * anything; they are bent so far towards even light that so much of that does; our choice. */
#define LEAST_COMES 0.5f
#define BALANCINGS  4 /* of exchanges; sums are then within 1e-4 */

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

typedef struct {
    const vs_air_room *r;
    size_t cell_first, cell_count, count[3];
    double volume_m3, k_per_m;
    const float *solid_sr, *away_m, *to[3];
    const vs_air_offset *offset;
    float *to_patch, *to_cell, *passes; /* passes: offset */
} hand;

static hand take(const vs_air *air, const vs_air_work *work, size_t room) {
    const vs_air_room *r = &air->room[room];
    const vs_cell_grid *g = &air->mesh->cells[room];
    hand h = {.r = r,
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

/* Harmonics of eight directions, vs_sh in floats, each averaged over a cap of a solid angle: degree
 * by degree times 1, (1 + c)/2, c (1 + c)/2, (1 + c)(5 c^2 - 1)/8, c the cosine at its edge. */
LANES_INLINE void lanes_sh(const hand *h, size_t at, int count, float y[VS_SH_COUNT][LANES]) {
    const float *to_x = h->to[0] + at, *to_y = h->to[1] + at, *to_z = h->to[2] + at;
    EACH_LANE(l) {
        float x = to_x[l], v = to_y[l], z = to_z[l], xx = x * x, vv = v * v, zz = z * z;
        float c = 1 - h->solid_sr[at + (size_t)l] * (float)(0.5 / VS_PI);
        float one = 0.5f * (1 + c), two = one * c;
        y[0][l] = 0.28209479f;
        y[1][l] = one * 0.48860251f * v;
        y[2][l] = one * 0.48860251f * z;
        y[3][l] = one * 0.48860251f * x;
        y[4][l] = two * 1.09254843f * x * v;
        y[5][l] = two * 1.09254843f * v * z;
        y[6][l] = two * 0.31539157f * (3 * zz - 1);
        y[7][l] = two * 1.09254843f * x * z;
        y[8][l] = two * 0.54627422f * (xx - vv);
    }
    EACH_LANE(l) {
        float x = to_x[l], v = to_y[l], z = to_z[l], xx = x * x, vv = v * v, zz = z * z;
        float c = 1 - h->solid_sr[at + (size_t)l] * (float)(0.5 / VS_PI);
        float three = count > 9 ? 0.125f * (1 + c) * (5 * c * c - 1) : 0;
        y[9][l] = three * 0.59004359f * v * (3 * xx - vv);
        y[10][l] = three * 2.89061144f * x * v * z;
        y[11][l] = three * 0.45704580f * v * (5 * zz - 1);
        y[12][l] = three * 0.37317633f * z * (5 * zz - 3);
        y[13][l] = three * 0.45704580f * x * (5 * zz - 1);
        y[14][l] = three * 1.44530572f * z * (xx - vv);
        y[15][l] = three * 0.59004359f * x * (xx - 3 * vv);
    }
}

/* Which offset leads from one cell to another; the next along x is the next. */
LANES_INLINE size_t offset_of(const hand *h, size_t from, size_t to) {
    size_t nx = h->count[0], ny = h->count[1];
    size_t x = to % nx + nx - 1 - from % nx;
    size_t y = to / nx % ny + ny - 1 - from / nx % ny;
    size_t z = to / nx / ny + h->count[2] - 1 - from / nx / ny;
    return (z * h->r->offsets[1] + y) * h->r->offsets[0] + x;
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
LANES_INLINE void dim_patches(const vs_air *air, const hand *h, double *taken) {
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
LANES_INLINE void scale_patches(const hand *h, const double *presence, const double *row,
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
LANES_INLINE void dim_cells(const vs_air *air, const hand *h) {
    const float *open = air->open + h->r->pair_first;
    for (size_t c = 0; c < h->cell_count; c++) {
        float *out = h->to_cell + c * h->cell_count;
        for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
            const float *passes = h->passes + offset_of(h, c, i);
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
LANES_INLINE void scale_cells(const hand *h, const double *taken, double *by, double *was) {
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

/* Turns harmonics of a direction into those of the opposite one. */
LANES_INLINE float turned(int n) {
    return vs_sh_degree[n] % 2 ? -1.0f : 1.0f;
}

/* Of a source's harmonics, what comes to patches. */
LANES_INLINE void sum_to_patches(const hand *h, size_t cell, const double *presence,
                                 float whole[VS_SH_COUNT]) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    float sum[VS_SH_COUNT][LANES] = {{0}};
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES], light[LANES];
        lanes_sh(h, cell * h->r->stride + p, VS_SH_COUNT, harmonic);
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
LANES_INLINE void sum_to_cells(const vs_air *air, const hand *h, size_t cell,
                               float even[VS_SH_COUNT]) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    float per = (float)(h->k_per_m * h->volume_m3), sum[VS_SH_COUNT] = {0};
    for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
        const vs_air_offset *offset = h->offset + offset_of(h, cell, i);
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
LANES_INLINE void sum_whole(const vs_air *air, const hand *h, size_t cell, const double *presence,
                            float *whole, float *even) {
    sum_to_patches(h, cell, presence, whole);
    sum_to_cells(air, h, cell, even);
    for (int n = 0; n < VS_SH_COUNT; n++) {
        whole[n] += even[n];
        even[n] *= turned(n);
    }
}

/* Of a source's harmonics, what comes to an opening of its room. */
LANES_INLINE void sum_to_side(const vs_air *air, const hand *h, size_t opening, float *out) {
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
            lanes_sh(h, c * h->r->stride + p, VS_SH_COUNT, harmonic);
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
LANES_INLINE void dim_room(const vs_air *air, const hand *h, const double *taken_by_patch,
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
        hand h = take(air, work, room);
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

/* ---- light on its way ---- */

LANES_INLINE void send_to_cell(const hand *h, size_t cell, const double *nits, int count,
                               float *moment) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    float sum[VS_SH_COUNT][LANES] = {{0}};
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES];
        lanes_sh(h, cell * h->r->stride + p, count, harmonic);
        for (size_t i = 0; i < LANES && p + i < h->r->patch_count; i++) {
            const double *from = nits + (h->r->patch_first + p + i) * LANES;
            float light[LANES];
            EACH_LANE(l) {
                light[l] = to_patch[p + i] * (float)from[l];
            }
            for (int n = 0; n < count; n++) {
                float by = harmonic[n][i];
                EACH_LANE(l) {
                    sum[n][l] += by * light[l];
                }
            }
        }
    }
    for (int n = 0; n < VS_SH_COUNT; n++) {
        EACH_LANE(l) {
            moment[n * LANES + l] += turned(n) * sum[n][l];
        }
    }
}

/* What cells see of patches behind openings. */
LANES_INLINE void send_through(const vs_air *air, const vs_air_work *work, const double *nits,
                               const float *scale, int count, float *moment) {
    const vs_throughs *through = &air->behind.patches;
    for (size_t n = 0; n < through->side_count; n++) {
        const vs_row_side *t = &through->side[n];
        const float *by = scale + (size_t)t->side * LANES;
        float *cell = moment + t->row * VS_AIR_MOMENTS;
        for (size_t i = t->first; i < t->end; i++) {
            const double *from = nits + (size_t)through->seen[i] * LANES;
            float light[LANES];
            EACH_LANE(l) {
                light[l] = (float)work->through[i] * by[l] * (float)from[l];
            }
            vs_air_add(through->item[i].harmonic, light, count, cell);
        }
    }
}

LANES_CLONES void vs_air_send(const vs_air *air, const vs_air_work *work, const double *nits,
                              const float *scale, int order, float *moment) {
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        hand h = take(air, work, room);
        for (size_t c = 0; c < h.cell_count && h.k_per_m > 0; c++) {
            float *cell = moment + (h.cell_first + c) * VS_AIR_MOMENTS;
            BY_ORDER(order, send_to_cell(&h, c, nits, count, cell))
        }
    }
    BY_ORDER(order, send_through(air, work, nits, scale, count, moment))
}

/* ---- sources ---- */

/* What droplets of a cell send of light that falls on them. */
LANES_INLINE void scatter_moments(const vs_air_droplets *droplets, const float *in, float per,
                                  size_t harmonics, float *out) {
    for (size_t n = 0; n < harmonics; n++) {
        const int degree = vs_sh_degree[n];
        EACH_LANE(l) {
            size_t at = n * LANES + (size_t)l;
            out[at] = per * (float)droplets->rest[l][degree] * in[at];
        }
    }
}

/* Moves light from the darker of two neighbouring cells to the brighter one: what the brighter sends
 * comes more from its far side, what the darker sends less from its near side, than if each shone
 * evenly. To second order the mean of source x kernel over cells is that of the means, plus 1/12 of
 * the product of their differences from cell to cell; summed by parts, a change of sources. */
LANES_INLINE void part_two(const float *a, const float *b, float weight, int count, float *more_a,
                           float *more_b) {
    float share[LANES];
    EACH_LANE(l) {
        float off = a[l] > b[l] ? a[l] - b[l] : b[l] - a[l];
        float least = single_max(0, single_min(a[l], b[l]));
        share[l] = off > least ? weight * least / off : weight;
    }
    for (int n = 0; n < count; n++) {
        EACH_LANE(l) {
            float move = share[l] * (a[n * LANES + l] - b[n * LANES + l]);
            more_a[n * LANES + l] += move;
            more_b[n * LANES + l] -= move;
        }
    }
}

/* The same along one axis of a room. */
LANES_INLINE void part_along(const hand *h, const float *source, int axis, int count, float *more) {
    const size_t step[3] = {1, h->count[0], h->count[0] * h->count[1]};
    for (size_t c = 0; c < h->cell_count; c++) {
        size_t at = c / step[axis] % h->count[axis], last = h->count[axis] - 2;
        if (at > last) {
            continue;
        }
        float weight = (1 + 0.5f * (float)(at == 0) + 0.5f * (float)(at == last)) / 12;
        size_t a = c * VS_AIR_MOMENTS, b = (c + step[axis]) * VS_AIR_MOMENTS;
        part_two(source + a, source + b, weight, count, more + a, more + b);
    }
}

/* Scales a cell's source so that all of it comes to something. */
LANES_INLINE void scale_source(const float *whole, size_t count, float *out, double lumens[LANES]) {
    const float whole_sr = 3.5449077f; /* sqrt(4 pi): of the first harmonic, over all directions */
    float comes[LANES] = {0}, by[LANES], bent[LANES];
    for (size_t n = 0; n < count; n++) {
        EACH_LANE(l) {
            comes[l] += whole[n] * out[n * LANES + (size_t)l];
        }
    }
    EACH_LANE(l) {
        float due = whole_sr * out[l], even = whole[0] * out[l];
        float least = LEAST_COMES * even, lacks = even - comes[l];
        bent[l] = even > 0 && comes[l] < least ? (even - least) / lacks : 1;
        lumens[l] += (double)due;
        by[l] = even > 0 ? due / (even - bent[l] * lacks) : 0;
    }
    for (size_t n = 0; n < count; n++) {
        EACH_LANE(l) {
            out[n * LANES + (size_t)l] *= n > 0 ? by[l] * bent[l] : by[l];
        }
    }
}

LANES_CLONES void vs_air_source(const vs_air *air, const vs_air_work *work,
                                const vs_air_droplets *droplets, const float *moment, int order,
                                float *source, double lumens[LANES]) {
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        hand h = take(air, work, room);
        float per = (float)(h.k_per_m * h.volume_m3 * droplets->albedo_rate);
        size_t first = h.cell_first * VS_AIR_MOMENTS, size = vs_air_count(order);
        float *out = source + first, *more = work->more;
        for (size_t c = 0; c < h.cell_count; c++) {
            scatter_moments(droplets, moment + first + c * VS_AIR_MOMENTS, per, size,
                            out + c * VS_AIR_MOMENTS);
            memset(more + c * VS_AIR_MOMENTS, 0, size * LANES * sizeof *more);
        }
        for (int axis = 0; axis < 3 && h.k_per_m > 0; axis++) {
            BY_ORDER(order, part_along(&h, out, axis, count, more))
        }
        for (size_t c = 0; c < h.cell_count; c++) {
            float *cell = out + c * VS_AIR_MOMENTS;
            for (size_t i = 0; i < size * LANES; i++) {
                cell[i] += more[c * VS_AIR_MOMENTS + i];
            }
            scale_source(work->whole + (h.cell_first + c) * VS_SH_COUNT, size, cell, lumens);
        }
    }
}

/* What one source sends in one direction. */
LANES_INLINE void exchange(const float *harmonic, const float *source, float weight, int count,
                           float *moment) {
    float even[LANES] = {0}, odd[LANES] = {0};
    for (int n = 0; n < count; n += 2) {
        EACH_LANE(l) {
            even[l] += harmonic[n] * source[n * LANES + l];
        }
    }
    for (int n = 1; n < count; n += 2) {
        EACH_LANE(l) {
            odd[l] += harmonic[n] * source[n * LANES + l];
        }
    }
    EACH_LANE(l) {
        even[l] = weight * (even[l] + odd[l]);
    }
    for (int n = 0; n < count; n++) {
        EACH_LANE(l) {
            moment[n * LANES + l] += harmonic[n] * even[l];
        }
    }
}

/* What all sources of a room send to one cell, each in the first of its directions. */
LANES_INLINE void scatter_to_cell(const vs_air *air, const hand *h, size_t cell,
                                  const float *source, int count, float *sum) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
        const vs_air_offset *offset = h->offset + offset_of(h, i, cell);
        for (size_t x = 0; x < h->count[0]; x++, offset--) {
            exchange(air->direction[offset->direction_first].harmonic,
                     source + (i + x) * VS_AIR_MOMENTS, to_cell[i + x] * offset->direction_share,
                     count, sum);
        }
    }
}

/* What its neighbours send in their other directions. */
LANES_INLINE void scatter_to_neighbour(const vs_air *air, const hand *h, size_t cell,
                                       const float *source, int count, float *sum) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    size_t nx = h->count[0], ny = h->count[1], x = cell % nx, y = cell / nx % ny,
           z = cell / nx / ny;
    for (size_t k = z - (z > 0); k <= z + 1 && k < h->count[2]; k++) {
        for (size_t j = y - (y > 0); j <= y + 1 && j < ny; j++) {
            for (size_t i = x - (x > 0); i <= x + 1 && i < nx; i++) {
                size_t other = (k * ny + j) * nx + i;
                const vs_air_offset *offset = h->offset + offset_of(h, other, cell);
                const vs_air_direction *direction = air->direction + offset->direction_first;
                for (size_t w = 1; w < offset->direction_count; w++) {
                    exchange(direction[w].harmonic, source + other * VS_AIR_MOMENTS,
                             to_cell[other] * offset->direction_share, count, sum);
                }
            }
        }
    }
}

/* The same of degree 0 alone, which is alike in all directions. */
LANES_INLINE void scatter_evenly(const hand *h, const float *source, float *moment) {
    const float square = (float)(0.25 / VS_PI); /* of the first harmonic */
    for (size_t c = 0; c < h->cell_count; c++) {
        const float *to_cell = h->to_cell + c * h->cell_count;
        float sum[LANES] = {0};
        for (size_t i = 0; i < h->cell_count; i++) {
            EACH_LANE(l) {
                sum[l] += to_cell[i] * source[i * VS_AIR_MOMENTS + (size_t)l];
            }
        }
        EACH_LANE(l) {
            moment[c * VS_AIR_MOMENTS + (size_t)l] = square * sum[l];
        }
    }
}

LANES_INLINE void scatter_in_room(const vs_air *air, const hand *h, const float *source, int count,
                                  float *moment) {
    for (size_t c = 0; c < h->cell_count; c++) {
        float sum[VS_AIR_MOMENTS] = {0};
        scatter_to_cell(air, h, c, source, count, sum);
        scatter_to_neighbour(air, h, c, source, count, sum);
        memcpy(moment + c * VS_AIR_MOMENTS, sum, (size_t)count * LANES * sizeof *sum);
    }
}

LANES_CLONES void vs_air_scatter(const vs_air *air, const vs_air_work *work, const float *source,
                                 int order, float *moment) {
    for (size_t room = 0; room < air->mesh->space->room_count; room++) {
        hand h = take(air, work, room);
        const float *from = source + h.cell_first * VS_AIR_MOMENTS;
        float *to = moment + h.cell_first * VS_AIR_MOMENTS;
        if (!(h.k_per_m > 0)) {
            memset(to, 0, h.cell_count * VS_AIR_MOMENTS * sizeof *to);
        } else if (order == 0) {
            scatter_evenly(&h, from, to);
        } else {
            BY_ORDER(order, scatter_in_room(air, &h, from, count, to))
        }
    }
}

/* What a cell sends to four patches, whose sums do not wait for one another. */
LANES_INLINE void land_on_four(float harmonic[VS_SH_COUNT][LANES], size_t at, const float *source,
                               int count, float light[4][LANES]) {
    for (int n = 0; n < count; n++) {
        for (size_t i = 0; i < 4; i++) {
            EACH_LANE(l) {
                light[i][l] += harmonic[n][at + i] * source[n * LANES + l];
            }
        }
    }
}

LANES_INLINE void land_from_cell(const hand *h, size_t cell, const float *source, int count,
                                 double *patch_lm) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES], light[LANES][LANES] = {{0}};
        lanes_sh(h, cell * h->r->stride + p, count, harmonic);
        land_on_four(harmonic, 0, source, count, light);
        land_on_four(harmonic, 4, source, count, light + 4);
        for (size_t i = 0; i < LANES && p + i < h->r->patch_count; i++) {
            double *to = patch_lm + (h->r->patch_first + p + i) * LANES;
            EACH_LANE(l) {
                to[l] += (double)(to_patch[p + i] * light[i][l]);
            }
        }
    }
}

/* Harmonics cut off at a degree may send slightly negative light somewhere: that becomes zero, and
 * the rest is reduced so that the sum stays. */
LANES_INLINE void no_less_than_nothing(const vs_mesh *mesh, size_t room, double *patch_lm) {
    double sum[LANES] = {0}, bright[LANES] = {0}, by[LANES];
    size_t first = mesh->room_first[room], end = mesh->room_first[room + 1];
    for (size_t i = first; i < end; i++) {
        double *lm = patch_lm + i * LANES, presence = mesh->patch[i].presence;
        EACH_LANE(l) {
            lm[l] *= presence;
            sum[l] += lm[l];
            bright[l] += lane_max(0, lm[l]);
        }
    }
    for (size_t l = 0; l < LANES; l++) {
        by[l] = sum[l] > 0 ? sum[l] / bright[l] : 0;
    }
    for (size_t i = first; i < end; i++) {
        double *lm = patch_lm + i * LANES;
        EACH_LANE(l) {
            lm[l] = lane_max(0, lm[l]) * by[l];
        }
    }
}

LANES_CLONES void vs_air_land(const vs_air *air, const vs_air_work *work, const float *source,
                              int order, double *patch_lm) {
    const vs_mesh *mesh = air->mesh;
    for (size_t i = 0; i < mesh->patch_count * LANES; i++) {
        patch_lm[i] = 0;
    }
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        hand h = take(air, work, room);
        for (size_t c = 0; c < h.cell_count && h.k_per_m > 0; c++) {
            const float *cell = source + (h.cell_first + c) * VS_AIR_MOMENTS;
            BY_ORDER(order, land_from_cell(&h, c, cell, count, patch_lm))
        }
        no_less_than_nothing(mesh, room, patch_lm);
    }
}
