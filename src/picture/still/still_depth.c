/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Depth from a map: how much of a line's veil lies before it. */
#include <math.h>
#include <stdlib.h>

#include "picture/still/still_kept.h"

#define EDGE_SHARE 0.05 /* [1] values further apart belong to two things; our choice */

/* ---- the map ---- */

static double metres_of(const vs_still_depth *d, size_t x, size_t y) {
    uint16_t code = vs_picture_at(d->map, x, y)[0];
    double count = d->map->bits == 8 ? (double)code / 257 : (double)code;
    return code == 0 ? (double)NAN : count * d->metres;
}

double vs_still_map_at(const vs_still_kept *k, size_t x, size_t y) {
    const vs_still_depth *d = k->depth;
    double mx = ((double)x + 0.5) * (double)d->map->width / (double)k->width - 0.5;
    double my = ((double)y + 0.5) * (double)d->map->height / (double)k->height - 0.5;
    mx = fmin(fmax(mx, 0), (double)d->map->width - 1);
    my = fmin(fmax(my, 0), (double)d->map->height - 1);
    size_t i = (size_t)mx, j = (size_t)my;
    size_t i1 = i + (i + 1 < d->map->width), j1 = j + (j + 1 < d->map->height);
    double u = mx - (double)i, v = my - (double)j;
    double c[4] = {metres_of(d, i, j), metres_of(d, i1, j), metres_of(d, i, j1),
                   metres_of(d, i1, j1)};
    double nearest = c[(u >= 0.5) + 2 * (v >= 0.5)], low = c[0], high = c[0];
    for (int n = 0; n < 4; n++) {
        low = fmin(low, c[n]);
        high = fmax(high, c[n]);
    }
    bool known = !isnan(c[0]) && !isnan(c[1]) && !isnan(c[2]) && !isnan(c[3]);
    if (!known || high - low > EDGE_SHARE * low) {
        return isnan(nearest) ? (double)INFINITY : nearest;
    }
    return (c[0] * (1 - u) + c[1] * u) * (1 - v) + (c[2] * (1 - u) + c[3] * u) * v;
}

/* ---- shares of the veil ---- */

static float *share_of(const vs_still_kept *k, size_t i, size_t j) {
    return k->share + (j * VS_STILL_SHARES_ACROSS + i) * (VS_STILL_SHARE_STEPS + 1);
}

/* One node's line of sight, cut at one length after another. */
static vs_status compute_node(vs_still_kept *k, size_t i, size_t j, vs_bands *veil,
                              vs_bands *bounced) {
    vs_vec3 along[VS_STILL_SHARE_STEPS];
    double length_m[VS_STILL_SHARE_STEPS];
    double x_px = (double)i / (VS_STILL_SHARES_ACROSS - 1) * (double)k->width;
    double y_px = (double)j / (VS_STILL_SHARES_DOWN - 1) * (double)k->height;
    vs_vec3 direction = vs_still_direction(k, x_px, y_px);
    vs_still_sight sight = vs_still_sight_along(k, direction);
    for (int s = 0; s < VS_STILL_SHARE_STEPS; s++) {
        along[s] = vs_vec3_unit(direction);
        length_m[s] = (double)sight.length_m * (s + 1) / VS_STILL_SHARE_STEPS;
    }
    vs_rays_block block = {VS_STILL_SHARE_STEPS, along, length_m, 0};
    vs_rays_light light = {.veil = veil, .bounced_veil = bounced};
    vs_status status = vs_rays_ask(&k->rays, &block, &light);
    if (status != VS_OK) {
        return status;
    }
    float *share = share_of(k, i, j);
    size_t columns = vs_rays_columns(&k->rays);
    double nits[VS_STILL_SHARE_STEPS + 1] = {0};
    for (int s = 0; s < VS_STILL_SHARE_STEPS; s++) {
        for (size_t c = 0; c < columns; c++) {
            nits[s + 1] += vs_bands_luminance(veil[(size_t)s * columns + c]) +
                           vs_bands_luminance(bounced[(size_t)s * columns + c]);
        }
    }
    for (int s = 0; s <= VS_STILL_SHARE_STEPS; s++) {
        double all = nits[VS_STILL_SHARE_STEPS];
        share[s] = all > 0 ? (float)fmin(nits[s] / all, 1) : (float)s / VS_STILL_SHARE_STEPS;
    }
    return VS_OK;
}

vs_status vs_still_share_init(vs_still_kept *k) {
    vs_status status = vs_rays_set(&k->rays, k->shot, k->room_extinction_per_m);
    size_t columns = vs_rays_columns(&k->rays);
    vs_bands *veil = calloc(VS_STILL_SHARE_STEPS * columns, sizeof *veil);
    vs_bands *bounced = calloc(VS_STILL_SHARE_STEPS * columns, sizeof *bounced);
    status = veil && bounced ? status : VS_ERR_MEMORY;
    for (size_t j = 0; j < VS_STILL_SHARES_DOWN && status == VS_OK; j++) {
        for (size_t i = 0; i < VS_STILL_SHARES_ACROSS && status == VS_OK; i++) {
            status = compute_node(k, i, j, veil, bounced);
        }
    }
    free(veil);
    free(bounced);
    return status;
}

double vs_still_share_at(const vs_still_kept *k, double x_px, double y_px, double length_share) {
    double gx = fmin(x_px / (double)k->width, 1) * (VS_STILL_SHARES_ACROSS - 1);
    double gy = fmin(y_px / (double)k->height, 1) * (VS_STILL_SHARES_DOWN - 1);
    double gs = fmin(fmax(length_share, 0), 1) * VS_STILL_SHARE_STEPS;
    size_t i = (size_t)fmin(gx, VS_STILL_SHARES_ACROSS - 2);
    size_t j = (size_t)fmin(gy, VS_STILL_SHARES_DOWN - 2);
    size_t s = (size_t)fmin(gs, VS_STILL_SHARE_STEPS - 1);
    double u = gx - (double)i, v = gy - (double)j, w = gs - (double)s, sum = 0;
    for (int c = 0; c < 4; c++) {
        const float *share = share_of(k, i + (c & 1), j + (size_t)(c >> 1));
        double weight = (c & 1 ? u : 1 - u) * (c & 2 ? v : 1 - v);
        sum += weight * ((double)share[s] * (1 - w) + (double)share[s + 1] * w);
    }
    return sum;
}
