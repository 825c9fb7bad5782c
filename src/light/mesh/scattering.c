/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See scattering.h. */
#include "light/mesh/scattering.h"

#include <string.h>

#include "light/airlight/airlight_fast_haze.h"

#define NARROW_ORDER  7   /* of the split for narrow beams; measured: docs/accuracy.md */
#define STRAIGHT_MOST 0.9 /* [1] keeps a needle-like phase function from being all forward */

/* Legendre's series in powers, by (l + 1) P_l+1 = (2 l + 1) x P_l - l P_l-1. */
static void find_powers(vs_split_phase *s, int band) {
    double before[VS_SPLIT_ORDER_MAX + 2] = {0}, now[VS_SPLIT_ORDER_MAX + 2] = {1};
    double sum[VS_SPLIT_ORDER_MAX + 1] = {0};
    for (int l = 0; l <= s->order; l++) {
        double next[VS_SPLIT_ORDER_MAX + 2] = {0};
        for (int i = 0; i <= l; i++) {
            sum[i] += s->rest[band][l] * now[i];
            next[i + 1] += (2 * l + 1) * now[i] / (l + 1);
            next[i] -= l * before[i] / (l + 1);
        }
        memcpy(before, now, sizeof before);
        memcpy(now, next, sizeof now);
    }
    for (int i = 0; i <= s->order; i++) {
        s->power[band][i] = (float)sum[i];
    }
}

static void split(vs_split_phase *s, int order, int band, double albedo, const double *moment) {
    s->order = order;
    s->straight[band] = fmin(fmax(moment[order + 1], 0), STRAIGHT_MOST);
    s->dimming.v[band] = 1 - albedo * s->straight[band];
    for (int l = 0; l <= order; l++) {
        s->rest[band][l] = (2 * l + 1) * (moment[l] - s->straight[band]) / (4 * VS_PI);
    }
    find_powers(s, band);
}

double vs_split_phase_per_sr(const vs_split_phase *s, int band, double cosine) {
    double before = 1, now = cosine, sum = s->rest[band][0];
    for (int l = 1; l <= s->order; l++) {
        sum += s->rest[band][l] * now;
        double next = ((2 * l + 1) * cosine * now - l * before) / (l + 1);
        before = now;
        now = next;
    }
    return sum;
}

void vs_scattering_make(vs_scattering *s, const vs_haze *haze) {
    vs_cap_phase cap;
    memset(s, 0, sizeof *s);
    s->gather = vs_fast_forward_scale(&haze->phase[VS_BAND_GREEN]);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_cap_phase_make(&haze->phase[band], &cap);
        double moment[NARROW_ORDER + 2];
        vs_phase_moments(&haze->phase[band], NARROW_ORDER + 2, moment);
        split(&s->wide, VS_SH_ORDER, band, haze->albedo.v[band], moment);
        split(&s->narrow, NARROW_ORDER, band, haze->albedo.v[band], moment);
        memcpy(s->moment[band], moment, sizeof s->moment[band]);
        for (int angle = 0; angle < VS_CAP_ANGLES; angle++) {
            for (int size = 0; size < VS_CAP_SIZES; size++) {
                s->per_sr[size][angle][band] = cap.value[size][angle];
            }
        }
    }
}
