/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The loops of radiosity.h: dimming form factors, and Gauss-Seidel sweeps of eight lights. */
#include "light/bounce/radiosity.h"

#include <math.h>

#define SWEEPS_MAX 400
#define RESTS      1e-6 /* [1] a light rests where no patch moves by more of its brightest */

LANES_CLONES static void dim_block(const double *factor, const float *length_m, size_t count,
                                   double k, double *weight) {
    for (size_t n = 0; n + LANES <= count; n += LANES) {
        EACH_LANE(l) {
            size_t i = n + (size_t)l;
            weight[i] = factor[i] * lane_exp(-k * (double)length_m[i]);
        }
    }
    for (size_t i = count / LANES * LANES; i < count; i++) {
        weight[i] = factor[i] * lane_exp(-k * (double)length_m[i]);
    }
}

void vs_radiosity_dim(const vs_radiosity *r, const double *room_extinction_per_m, double rate,
                      vs_radiosity_work *work) {
    for (size_t room = 0; room < r->mesh->space->room_count; room++) {
        size_t first = r->block[room];
        dim_block(r->form_factor + first, r->length_m + first, r->block[room + 1] - first,
                  rate * room_extinction_per_m[room], work->weight + first);
    }
    for (size_t i = 0; i < r->through_count; i++) {
        const vs_row_through *t = &r->through[i];
        double depth = 0;
        for (uint32_t n = 0; n < t->room_count; n++) {
            depth += room_extinction_per_m[t->room[n]] * (double)t->length_m[n];
        }
        work->through[i] = (double)t->form_factor * exp(-rate * depth);
    }
}

/* What one row gets from its room. */
LANES_INLINE void gather_row(const double *weight, const double *nits, size_t count, double *sum) {
    for (size_t j = 0; j < count; j++) {
        double w = weight[j];
        EACH_LANE(l) {
            sum[l] += w * nits[j * LANES + (size_t)l];
        }
    }
}

/* One sweep over a room. Lanes that rest stay as they are; moved: the largest step of each. */
LANES_CLONES static void sweep_room(const vs_radiosity *r, const vs_radiosity_work *work,
                                    size_t room, const double *behind, const double *active,
                                    double *moved, double *most) {
    const vs_mesh *mesh = r->mesh;
    size_t first = mesh->room_first[room], count = mesh->room_first[room + 1] - first;
    for (size_t i = 0; i < count; i++) {
        const vs_patch *patch = &mesh->patch[first + i];
        double by = patch->reflectance * patch->presence, sum[LANES];
        double *nits = work->nits + (first + i) * LANES;
        const double *source = work->source + (first + i) * LANES;
        if (by == 0) {
            continue;
        }
        EACH_LANE(l) {
            sum[l] = behind[(first + i) * LANES + (size_t)l];
        }
        gather_row(work->weight + r->block[room] + i * count, work->nits + first * LANES, count,
                   sum);
        EACH_LANE(l) {
            double next = source[l] + by * sum[l], step = (next - nits[l]) * active[l];
            double size = step < 0 ? -step : step;
            nits[l] += step;
            moved[l] = lane_max(moved[l], size);
            most[l] = lane_max(most[l], nits[l]);
        }
    }
}

/* What rows get from behind openings. */
static void gather_behind(const vs_radiosity *r, const vs_radiosity_work *work, double *behind) {
    for (size_t i = 0; i < r->mesh->patch_count * LANES; i++) {
        behind[i] = 0;
    }
    for (size_t i = 0; i < r->through_count; i++) {
        const vs_row_through *t = &r->through[i];
        for (size_t l = 0; l < LANES && t->patch != VS_ROW_AIR; l++) {
            behind[t->row * LANES + l] += work->through[i] * work->nits[t->patch * LANES + l];
        }
    }
}

vs_status vs_radiosity_solve(const vs_radiosity *r, vs_radiosity_work *work) {
    double active[LANES];
    for (int l = 0; l < LANES; l++) {
        active[l] = 1;
    }
    for (size_t i = 0; i < r->mesh->patch_count * LANES; i++) {
        work->nits[i] = work->source[i];
    }
    for (int sweep = 0; sweep < SWEEPS_MAX; sweep++) {
        double moved[LANES] = {0}, most[LANES] = {0}, working = 0;
        gather_behind(r, work, work->behind);
        for (size_t room = 0; room < r->mesh->space->room_count; room++) {
            sweep_room(r, work, room, work->behind, active, moved, most);
        }
        for (int l = 0; l < LANES; l++) {
            active[l] = moved[l] > RESTS * most[l] ? active[l] : 0;
            working += active[l];
        }
        if (working == 0) {
            return VS_OK;
        }
    }
    return VS_ERR_CONVERGENCE;
}
