/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Dimming form factors, and Gauss-Seidel sweeps of eight lights. After each sweep the light of
 * every room is scaled to its balance (Chatelin & Miranker 1982, Linear Algebra Appl. 43, 17:
 * aggregation), so that bright rooms, where light meets walls a thousand times, converge as soon as
 * others. */
#include "light/transport/radiosity_solve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/arrays.h"
#include "base/lanes.h"
#include "base/single.h"

#define SWEEPS_MAX 400
#define RESTS      1e-6f /* [1] converged: no patch moves by more of the brightest */
#define ROOMS_REST 1e-5f /* [1] converged: no room's balance is off by more */
/* [cd/m2 m2] a room with less, behind meters of dense haze, is black: single precision ends near it */
#define DARK 1e-30

/* ---- memory ---- */

vs_status vs_radiosity_work_init(vs_radiosity_work *work, const vs_radiosity *r) {
    const vs_radiosity_work blank = {0};
    size_t patches = r->mesh->patch_count, sides = vs_side_count(r->mesh);
    *work = blank;
    const vs_array arrays[] = {VS_ARRAY(work->weight, r->block[r->mesh->space->room_count]),
                               VS_ARRAY(work->through, r->behind.patches.count),
                               VS_ARRAY(work->through_air, r->behind.air.count),
                               VS_ARRAY(work->taken, patches),
                               VS_ARRAY(work->column, patches),
                               VS_ARRAY(work->sent_m2, sides * patches),
                               VS_ARRAY(work->seen_m2, sides * patches),
                               VS_ARRAY(work->side_from, sides),
                               VS_ARRAY(work->side_to, sides),
                               VS_ARRAY(work->scale, sides * LANES),
                               VS_ARRAY(work->source, patches * LANES),
                               VS_ARRAY(work->behind, patches * LANES),
                               VS_ARRAY(work->nits, patches * LANES),
                               VS_ARRAY(work->light, patches * LANES)};
    work->block = vs_arrays_make(arrays, sizeof arrays / sizeof *arrays);
    return work->block ? VS_OK : VS_ERR_MEMORY;
}

void vs_radiosity_work_free(vs_radiosity_work *work) {
    const vs_radiosity_work blank = {0};
    free(work->block);
    *work = blank;
}

/* ---- a haze ---- */

/* A row's form factors in a haze. Returns what haze takes of uniform light. */
LANES_INLINE double dim_row(const double *factor, const float *length_m, const double *presence,
                            size_t count, double k, float *weight) {
    double taken[LANES] = {0}, rest = 0;
    size_t n = 0;
    for (; n + LANES <= count; n += LANES) {
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            double passes = lane_exp(-k * (double)length_m[i]);
            weight[i] = (float)(factor[i] * passes);
            taken[l] += factor[i] * presence[i] * (1 - passes);
        }
    }
    for (; n < count; n++) {
        double passes = lane_exp(-k * (double)length_m[n]);
        weight[n] = (float)(factor[n] * passes);
        rest += factor[n] * presence[n] * (1 - passes);
    }
    return lanes_sum(taken) + rest;
}

/* Of a patch's light, what its room's patches give back. */
LANES_CLONES static void sum_columns(const vs_radiosity *r, const vs_radiosity_work *work) {
    const vs_mesh *mesh = r->mesh;
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        size_t first = mesh->room_first[room], count = mesh->room_first[room + 1] - first;
        double *column = work->column + first;
        for (size_t j = 0; j < count; j++) {
            column[j] = 0;
        }
        for (size_t i = 0; i < count; i++) {
            const vs_patch *patch = &mesh->patch[first + i];
            const float *weight = work->weight + r->block[room] + i * count;
            double by = patch->reflectance * patch->presence * patch->area_m2;
            for (size_t j = 0; j < count; j++) {
                column[j] += by * (double)weight[j];
            }
        }
    }
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

static size_t most(size_t a, size_t b) {
    return a > b ? a : b;
}

/* What comes to openings of the light of the patches beyond, and what patches see of that. */
static void sum_sides(const vs_radiosity *r, const vs_radiosity_work *work) {
    const vs_mesh *mesh = r->mesh;
    for (size_t side = 0; side < vs_side_count(mesh); side++) {
        size_t room = vs_side_beyond(mesh, side);
        work->side_from[side] = room == VS_SPACE_OUTSIDE ? 0 : mesh->room_first[room];
        work->side_to[side] = room == VS_SPACE_OUTSIDE ? 0 : mesh->room_first[room + 1];
    }
    memset(work->sent_m2, 0, vs_side_count(r->mesh) * mesh->patch_count * sizeof *work->sent_m2);
    memset(work->seen_m2, 0, vs_side_count(r->mesh) * mesh->patch_count * sizeof *work->seen_m2);
    for (size_t i = 0; i < mesh->patch_count; i++) {
        const vs_patch *patch = &mesh->patch[i];
        if (patch->opening == VS_MESH_NONE) {
            continue;
        }
        const vs_opening *opening = &mesh->space->opening[patch->opening];
        size_t beyond = vs_opening_beyond(opening, patch->room);
        size_t first = mesh->room_first[patch->room];
        size_t count = mesh->room_first[patch->room + 1] - first;
        const float *weight = work->weight + r->block[patch->room] + (i - first) * count;
        double *sent = work->sent_m2 + first +
                       mesh->patch_count * vs_opening_side(mesh->space, patch->opening, beyond);
        for (size_t j = 0; j < count; j++) {
            sent[j] += patch->area_m2 * opening->transmittance * (double)weight[j];
        }
    }
    for (size_t i = 0; i < r->behind.patches.count; i++) {
        const vs_row_through *t = &r->behind.patches.item[i];
        const vs_patch *row = &mesh->patch[t->row];
        work->seen_m2[t->side * mesh->patch_count + t->seen] +=
            row->area_m2 * row->presence * work->through[i];
        work->side_from[t->side] = least(work->side_from[t->side], t->seen);
        work->side_to[t->side] = most(work->side_to[t->side], (size_t)t->seen + 1);
    }
}

LANES_CLONES void vs_radiosity_dim(const vs_radiosity *r, const double *room_extinction_per_m,
                                   double rate, vs_radiosity_work *work) {
    for (size_t room = 0; room < r->mesh->space->room_count; room++) {
        size_t first = r->mesh->room_first[room], count = r->mesh->room_first[room + 1] - first;
        for (size_t i = 0; i < count; i++) {
            size_t row = r->block[room] + i * count;
            work->taken[first + i] =
                dim_row(r->form_factor + row, r->length_m + row, r->presence + first, count,
                        rate * room_extinction_per_m[room], work->weight + row);
        }
    }
    sum_columns(r, work);
    vs_throughs_dim(&r->behind.patches, room_extinction_per_m, rate, work->through);
    vs_throughs_dim(&r->behind.air, room_extinction_per_m, rate, work->through_air);
    sum_sides(r, work);
}

/* What one row gets from its room: four independent sums, none of which waits for another. */
LANES_INLINE void gather_row(const float *weight, const float *light, size_t count, float *sum) {
    float part[4][LANES] = {{0}};
    size_t j = 0;
    for (; j + 4 <= count; j += 4) {
        for (size_t n = 0; n < 4; n++) {
            EACH_LANE(l) {
                part[n][l] += weight[j + n] * light[(j + n) * LANES + (size_t)l];
            }
        }
    }
    for (; j < count; j++) {
        EACH_LANE(l) {
            part[0][l] += weight[j] * light[j * LANES + (size_t)l];
        }
    }
    EACH_LANE(l) {
        sum[l] += (part[0][l] + part[1][l]) + (part[2][l] + part[3][l]);
    }
}

/* One sweep over a room. Lanes that have converged stay as they are; moved: the largest step of
 * each. */
LANES_CLONES static void sweep_room(const vs_radiosity *r, const vs_radiosity_work *work,
                                    size_t room, const float *active, float *moved, float *most) {
    const vs_mesh *mesh = r->mesh;
    size_t first = mesh->room_first[room], count = mesh->room_first[room + 1] - first;
    for (size_t i = 0; i < count; i++) {
        const vs_patch *patch = &mesh->patch[first + i];
        float by = (float)(patch->reflectance * patch->presence), sum[LANES];
        float *light = work->light + (first + i) * LANES;
        const double *source = work->source + (first + i) * LANES;
        if (by == 0) {
            continue;
        }
        EACH_LANE(l) {
            sum[l] = work->behind[(first + i) * LANES + (size_t)l];
        }
        gather_row(work->weight + r->block[room] + i * count, work->light + first * LANES, count,
                   sum);
        EACH_LANE(l) {
            float next = (float)source[l] + by * sum[l], step = (next - light[l]) * active[l];
            float size = step < 0 ? -step : step;
            light[l] += step;
            moved[l] = single_max(moved[l], size);
            most[l] = single_max(most[l], light[l]);
        }
    }
}

/* Scales of what rows see behind openings; `behind` is what came to them before. Lanes that have
 * converged keep theirs. */
LANES_CLONES static void scale_sides(const vs_radiosity *r, const vs_radiosity_work *work,
                                     const float *active) {
    const vs_mesh *mesh = r->mesh;
    for (size_t side = 0; side < vs_side_count(mesh); side++) {
        size_t opening = vs_side_opening(side), beyond = vs_side_beyond(mesh, side);
        double transmittance = mesh->space->opening[opening].transmittance;
        double sent[LANES] = {0}, seen[LANES] = {0};
        for (size_t i = work->side_from[side]; i < work->side_to[side]; i++) {
            const vs_patch *patch = &mesh->patch[i];
            const float *light = work->light + i * LANES, *behind = work->behind + i * LANES;
            double sent_m2 = work->sent_m2[side * mesh->patch_count + i];
            double seen_m2 = work->seen_m2[side * mesh->patch_count + i];
            bool on = patch->opening == opening && patch->room == beyond;
            double on_m2 = on ? patch->area_m2 * transmittance : 0;
            EACH_LANE(l) {
                sent[l] += sent_m2 * (double)light[l] + on_m2 * (double)behind[l];
                seen[l] += seen_m2 * (double)light[l];
            }
        }
        for (size_t l = 0; l < LANES; l++) {
            float *scale = &work->scale[side * LANES + l];
            /* behind very much haze rows see next to nothing of what is sent */
            float now = seen[l] > 0 ? (float)fmin(sent[l] / seen[l], (double)SINGLE_FAR) : 1;
            *scale = active[l] > 0 ? now : *scale;
        }
    }
}

/* What rows get from behind openings. */
LANES_CLONES static void gather_behind(const vs_radiosity *r, const vs_radiosity_work *work,
                                       const float *active) {
    scale_sides(r, work, active);
    for (size_t i = 0; i < r->mesh->patch_count * LANES; i++) {
        work->behind[i] = 0;
    }
    for (size_t n = 0; n < r->behind.patches.side_count; n++) {
        const vs_row_side *t = &r->behind.patches.side[n];
        float *behind = work->behind + (size_t)t->row * LANES;
        const float *scale = work->scale + (size_t)t->side * LANES;
        for (size_t i = t->first; i < t->end; i++) {
            const float *light = work->light + (size_t)r->behind.patches.seen[i] * LANES;
            float by = (float)work->through[i];
            EACH_LANE(l) { /* straight into memory: a sum of its own here is not made a vector */
                behind[l] += scale[l] * (by * light[l]);
            }
        }
    }
}

/* ---- rooms' balances ---- */

/* Scales each room's light to its balance: what it gives out is what its sources and what comes
 * from behind openings make, and what is given back of it.
 *     scaled  out: by how much at most [1] */
LANES_CLONES static void balance_rooms(const vs_radiosity *r, const vs_radiosity_work *work,
                                       const float *active, float *scaled) {
    const vs_mesh *mesh = r->mesh;
    for (size_t room = 0; room < mesh->space->room_count; room++) {
        size_t first = mesh->room_first[room], end = mesh->room_first[room + 1];
        double in[LANES] = {0}, kept[LANES] = {0}, scale[LANES];
        for (size_t i = first; i < end; i++) {
            const vs_patch *patch = &mesh->patch[i];
            double area_m2 = patch->area_m2, by = area_m2 * patch->reflectance * patch->presence;
            double keeps = area_m2 - work->column[i];
            EACH_LANE(l) {
                size_t at = i * LANES + (size_t)l;
                in[l] += area_m2 * work->source[at] + by * (double)work->behind[at];
                kept[l] += keeps * (double)work->light[at];
            }
        }
        for (size_t l = 0; l < LANES; l++) {
            bool can = active[l] > 0 && in[l] > DARK && kept[l] > DARK;
            scale[l] = can ? in[l] / kept[l] : 1;
            scaled[l] = single_max(scaled[l], fabsf((float)scale[l] - 1));
        }
        for (size_t i = first; i < end; i++) {
            EACH_LANE(l) {
                work->light[i * LANES + (size_t)l] *= (float)scale[l];
            }
        }
    }
}

static bool all_rest(const float *moved, const float *most, const float *scaled, float *active) {
    float working = 0;
    for (int l = 0; l < LANES; l++) {
        active[l] = moved[l] > RESTS * most[l] || scaled[l] > ROOMS_REST ? active[l] : 0;
        working += active[l];
    }
    return working == 0;
}

vs_status vs_radiosity_solve(const vs_radiosity *r, vs_radiosity_work *work) {
    float active[LANES];
    bool rest = false;
    for (int l = 0; l < LANES; l++) {
        active[l] = 1;
    }
    for (size_t i = 0; i < r->mesh->patch_count * LANES; i++) {
        work->light[i] = (float)work->source[i];
        work->behind[i] = 0;
    }
    for (int sweep = 0; sweep < SWEEPS_MAX && !rest; sweep++) {
        float moved[LANES] = {0}, most[LANES] = {0}, scaled[LANES] = {0};
        gather_behind(r, work, active);
        balance_rooms(r, work, active, scaled);
        for (size_t room = 0; room < r->mesh->space->room_count; room++) {
            sweep_room(r, work, room, active, moved, most);
        }
        rest = all_rest(moved, most, scaled, active);
    }
    for (size_t i = 0; i < r->mesh->patch_count * LANES; i++) {
        work->nits[i] = (double)work->light[i];
    }
    return rest ? VS_OK : VS_ERR_CONVERGENCE;
}
