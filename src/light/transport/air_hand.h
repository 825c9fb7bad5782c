/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A room of air in hand, for loops over its patches and cells. Private to light/transport. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_AIR_HAND_H
#define VEILSTOP_LIGHT_TRANSPORT_AIR_HAND_H

#include "light/transport/air_exchange.h"
#include "veilstop/base/units.h"

typedef struct {
    const vs_air_room *r;
    size_t cell_first, cell_count, count[3];
    double volume_m3, k_per_m;
    const float *solid_sr, *away_m, *to[3];
    const vs_air_offset *offset;
    float *to_patch, *to_cell, *passes; /* passes: offset */
} vs_air_hand;

vs_air_hand vs_air_take(const vs_air *air, const vs_air_work *work, size_t room);

/* Harmonics of eight directions, vs_sh in floats, each averaged over a cap of a solid angle: degree
 * by degree times 1, (1 + c)/2, c (1 + c)/2, (1 + c)(5 c^2 - 1)/8, c the cosine at its edge. */
LANES_INLINE void vs_air_sh(const vs_air_hand *h, size_t at, int count,
                            float y[VS_SH_COUNT][LANES]) {
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
LANES_INLINE size_t vs_air_offset_of(const vs_air_hand *h, size_t from, size_t to) {
    size_t nx = h->count[0], ny = h->count[1];
    size_t x = to % nx + nx - 1 - from % nx;
    size_t y = to / nx % ny + ny - 1 - from / nx % ny;
    size_t z = to / nx / ny + h->count[2] - 1 - from / nx / ny;
    return (z * h->r->offsets[1] + y) * h->r->offsets[0] + x;
}

/* Turns harmonics of a direction into those of the opposite one. */
LANES_INLINE float vs_air_turned(int n) {
    return vs_sh_degree[n] % 2 ? -1.0f : 1.0f;
}

#endif
