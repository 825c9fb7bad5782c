/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See choose_direct.h. Barycentric interpolation at Chebyshev points of the second kind (Berrut &
 * Trefethen 2004, SIAM Rev. 46, 501), veils over the density. */
#include "shot/choose/choose_direct.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "shot/predict/direct_steps.h"
#include "veilstop/base/units.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/want.h"

#define NEARLY_NONE 1e-9 /* [1] of the end: for clear air, where veil over density is 0/0 */
#define TOGETHER    VS_AIRLIGHT_STEPS_MAX

vs_status vs_direct_curve_begin(vs_direct_curve *curve, const vs_scene *scene, size_t shot,
                                double end_per_m) {
    const vs_scene_shot *s = &scene->shot[shot];
    const vs_direct_curve fresh = {
        .points = s->point_count,
        .places = vs_note_count(s->point_count, vs_want_beam_place(s, s->want_count)),
        .lights = scene->light_count};
    *curve = fresh;
    size_t each = curve->places * curve->lights;
    vs_bands *all = calloc(VS_DIRECT_NODES * each + 1, sizeof *all);
    for (size_t i = 0; i < VS_DIRECT_NODES && all; i++) {
        double part = 0.5 - 0.5 * cos(VS_PI * (double)i / (VS_DIRECT_NODES - 1));
        curve->k_per_m[i] = end_per_m * fmax(part, NEARLY_NONE);
        curve->node[i] = all + i * each;
    }
    return all ? VS_OK : VS_ERR_MEMORY;
}

vs_status vs_direct_curve_part(const vs_direct_curve *curve, vs_predictor *p, size_t shot,
                               size_t part) {
    double *room_per_m[TOGETHER] = {NULL};
    size_t rooms = p->scene->room_count, first = part * TOGETHER;
    double *all = calloc(TOGETHER * rooms + 1, sizeof *all);
    vs_status status = all ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < TOGETHER && status == VS_OK; i++) {
        room_per_m[i] = all + i * rooms;
        status = vs_held_rooms(p->scene, &p->scene->shot[shot], &p->haze, curve->k_per_m[first + i],
                               room_per_m[i]);
    }
    if (status == VS_OK) {
        status = vs_predict_direct(p, shot, room_per_m, curve->node + first, TOGETHER);
    }
    free(all);
    return status;
}

void vs_direct_curve_end(vs_direct_curve *curve, double end_per_m, bool worked_out) {
    if (worked_out) {
        curve->end_per_m = end_per_m;
    } else {
        vs_direct_curve_free(curve);
    }
}

void vs_direct_curve_free(vs_direct_curve *curve) {
    const vs_direct_curve blank = {0};
    free(curve->node[0]);
    *curve = blank;
}

/* The nodes' shares in the value at a density; they sum to 1. */
static void set_shares(const vs_direct_curve *curve, double k, double *share) {
    double sum = 0;
    for (size_t i = 0; i < VS_DIRECT_NODES; i++) {
        if (k == curve->k_per_m[i]) {
            memset(share, 0, VS_DIRECT_NODES * sizeof *share);
            share[i] = 1;
            return;
        }
        double weight = (i % 2 ? -1 : 1) * (i == 0 || i + 1 == VS_DIRECT_NODES ? 0.5 : 1);
        share[i] = weight / (k - curve->k_per_m[i]);
        sum += share[i];
    }
    for (size_t i = 0; i < VS_DIRECT_NODES; i++) {
        share[i] /= sum;
    }
}

static void add_node(const vs_direct_curve *curve, size_t node, double share, double veil_share,
                     vs_bands *direct) {
    for (size_t place = 0; place < curve->places; place++) {
        double part = vs_note_is_veil(curve->points, place) ? veil_share : share;
        size_t end = (place + 1) * curve->lights;
        for (size_t i = place * curve->lights; i < end && part != 0; i++) {
            direct[i] = vs_bands_add(direct[i], vs_bands_scale(curve->node[node][i], part));
        }
    }
}

bool vs_direct_curve_at(const vs_direct_curve *curve, double k, vs_bands *direct) {
    double share[VS_DIRECT_NODES];
    if (!(k <= curve->end_per_m)) {
        return false;
    }
    set_shares(curve, k, share);
    memset(direct, 0, curve->places * curve->lights * sizeof *direct);
    for (size_t i = 0; i < VS_DIRECT_NODES; i++) {
        add_node(curve, i, share[i], share[i] * k / curve->k_per_m[i], direct);
    }
    for (size_t i = 0; i < curve->places * curve->lights; i++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            direct[i].v[band] = fmax(direct[i].v[band], 0);
        }
    }
    return true;
}
