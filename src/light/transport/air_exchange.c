/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Per cell the source in a direction is k sum over l of (moment_l - share) sum over m of L_lm Y_lm
 * (Chandrasekhar 1950, Radiative Transfer, ch. VI). The exchanges: air_dim.c. */
#include "light/transport/air_exchange.h"

#include <string.h>

#include "base/lanes.h"
#include "base/single.h"
#include "light/transport/air_hand.h"

/* [1] Harmonics cut off at a degree may tell that next to nothing of a narrow beam's light comes to
 * anything; they are bent so far towards even light that so much of that does; our choice. */
#define LEAST_COMES 0.5f

/* ---- light on its way ---- */

LANES_INLINE void send_to_cell(const vs_air_hand *h, size_t cell, const double *nits, int count,
                               float *moment) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    float sum[VS_SH_COUNT][LANES] = {{0}};
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES];
        vs_air_sh(h, cell * h->r->stride + p, count, harmonic);
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
            moment[n * LANES + l] += vs_air_turned(n) * sum[n][l];
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
        vs_air_hand h = vs_air_take(air, work, room);
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
LANES_INLINE void part_along(const vs_air_hand *h, const float *source, int axis, int count,
                             float *more) {
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
        vs_air_hand h = vs_air_take(air, work, room);
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
LANES_INLINE void scatter_to_cell(const vs_air *air, const vs_air_hand *h, size_t cell,
                                  const float *source, int count, float *sum) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    for (size_t i = 0; i < h->cell_count; i += h->count[0]) {
        const vs_air_offset *offset = h->offset + vs_air_offset_of(h, i, cell);
        for (size_t x = 0; x < h->count[0]; x++, offset--) {
            exchange(air->direction[offset->direction_first].harmonic,
                     source + (i + x) * VS_AIR_MOMENTS, to_cell[i + x] * offset->direction_share,
                     count, sum);
        }
    }
}

/* What its neighbours send in their other directions. */
LANES_INLINE void scatter_to_neighbour(const vs_air *air, const vs_air_hand *h, size_t cell,
                                       const float *source, int count, float *sum) {
    const float *to_cell = h->to_cell + cell * h->cell_count;
    size_t nx = h->count[0], ny = h->count[1], x = cell % nx, y = cell / nx % ny,
           z = cell / nx / ny;
    for (size_t k = z - (z > 0); k <= z + 1 && k < h->count[2]; k++) {
        for (size_t j = y - (y > 0); j <= y + 1 && j < ny; j++) {
            for (size_t i = x - (x > 0); i <= x + 1 && i < nx; i++) {
                size_t other = (k * ny + j) * nx + i;
                const vs_air_offset *offset = h->offset + vs_air_offset_of(h, other, cell);
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
LANES_INLINE void scatter_evenly(const vs_air_hand *h, const float *source, float *moment) {
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

LANES_INLINE void scatter_in_room(const vs_air *air, const vs_air_hand *h, const float *source,
                                  int count, float *moment) {
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
        vs_air_hand h = vs_air_take(air, work, room);
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

LANES_INLINE void land_from_cell(const vs_air_hand *h, size_t cell, const float *source, int count,
                                 double *patch_lm) {
    const float *to_patch = h->to_patch + cell * h->r->stride;
    for (size_t p = 0; p < h->r->stride; p += LANES) {
        float harmonic[VS_SH_COUNT][LANES], light[LANES][LANES] = {{0}};
        vs_air_sh(h, cell * h->r->stride + p, count, harmonic);
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
        vs_air_hand h = vs_air_take(air, work, room);
        for (size_t c = 0; c < h.cell_count && h.k_per_m > 0; c++) {
            const float *cell = source + (h.cell_first + c) * VS_AIR_MOMENTS;
            BY_ORDER(order, land_from_cell(&h, c, cell, count, patch_lm))
        }
        no_less_than_nothing(mesh, room, patch_lm);
    }
}
