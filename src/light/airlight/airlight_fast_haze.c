/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See airlight_fast_haze.h. */
#include "light/airlight/airlight_fast_haze.h"

#include "veilstop/base/units.h"

#define ROOT_3        1.732050807568877294 /* [1] */
#define FORWARD_G_MAX 0.95                 /* [1] nodes crowd no closer than for this asymmetry */

/* A peaked Henyey-Greenstein function has fallen to an eighth of its peak at tan(angle/2) = sqrt 3
 * (1 - g)/(1 + g); a table is treated as one that falls as fast. */
static double table_forward_scale(const vs_phase *phase) {
    size_t i = 1;
    while (i + 2 < phase->count && phase->value[i] > phase->value[0] / 8) {
        i++;
    }
    double place = (double)i / (double)(phase->count - 1);
    return place / (1 - place) / ROOT_3;
}

double vs_fast_forward_scale(const vs_phase *phase) {
    double g = fmin(fmax(phase->g, -FORWARD_G_MAX), FORWARD_G_MAX);
    return phase->kind == VS_PHASE_TABLE ? table_forward_scale(phase) : (1 - g) / (1 + g);
}

bool vs_fast_haze_make(const vs_medium *medium, const double *step, size_t step_count,
                       size_t *nodes, vs_fast_haze *haze) {
    haze->nodes = nodes;
    const vs_phase *phase = medium->haze->phase;
    bool grey = true;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        if (phase[band].kind != phase[0].kind) {
            return false;
        }
        grey = grey && vs_phase_same(&phase[band], &phase[0]) &&
               medium->ratio.v[band] == medium->ratio.v[0];
        for (size_t s = 0; s < step_count; s++) {
            haze->step[s] = step[s];
            haze->ratio[(size_t)band * step_count + s] = medium->ratio.v[band] * step[s];
        }
        haze->g[band] = phase[band].g;
        haze->peak[band] = (1 - phase[band].g) * (1 + phase[band].g) / (4 * VS_PI);
        haze->value[band] = phase[band].value;
        haze->last[band] = (double)phase[band].count - 1;
    }
    haze->table = phase[0].kind == VS_PHASE_TABLE;
    haze->colour_count = grey ? 1 : VS_BAND_COUNT;
    haze->step_count = (int)step_count;
    haze->band_count = haze->colour_count * haze->step_count;
    int refine_colour = grey ? 0 : VS_BAND_GREEN;
    haze->refine_band = refine_colour * haze->step_count + haze->step_count / 2;
    haze->forward_scale = vs_fast_forward_scale(&phase[refine_colour]);
    return true;
}

void vs_fast_add_nits(const vs_medium *medium, const vs_fast_haze *haze, const vs_emitter *emitter,
                      const double *sum, double scale, vs_bands *nits) {
    for (int step = 0; step < haze->step_count; step++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            int colour = haze->colour_count == 1 ? 0 : band;
            nits[step].v[band] += haze->step[step] * sum[colour * haze->step_count + step] *
                                  medium->haze->albedo.v[band] * medium->ratio.v[band] *
                                  emitter->strength.v[band] * scale;
        }
    }
}
