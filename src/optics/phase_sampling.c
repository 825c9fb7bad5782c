/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drawing scattering angles. A table is linear in w (phase.h); with q = (1 - w)^2 + w^2,
 * 1 - cos(angle) = 2 w^2/q and d(solid angle) = 8 pi w (1 - w)/q^2 dw.
 * Sources: the header. */
#include "veilstop/optics/phase_sampling.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/units.h"

#define NEWTON_STEPS 6    /* started within the cell they converge to rounding in four */
#define G_SMALL      1e-4 /* [1] below it the closed form divides by nearly zero */

static double q_at(double w) {
    return (1 - w) * (1 - w) + w * w;
}

static double one_less_cosine(double w) {
    return 2 * w * w / q_at(w);
}

/* Light of the cell from w up to the share s of its width: 2 pi times the integral of p d(1 - cos),
 * by parts; the integral of 1 - cos over w is w + ln(q)/2. */
static double cell_light(double w, double width, double p, double step, double s) {
    double end = w + width * s;
    double q_grows = width * s * 2 * (w + end - 1);
    double within = width * s + 0.5 * log1p(q_grows / q_at(w));
    return 2 * VS_PI *
           ((p + step * s) * one_less_cosine(end) - p * one_less_cosine(w) - step / width * within);
}

/* Its derivative with respect to s. */
static double cell_slope(double w, double width, double p, double step, double s) {
    double here = w + width * s, q = q_at(here);
    return 8 * VS_PI * width * (p + step * s) * here * (1 - here) / (q * q);
}

vs_status vs_phase_sampler_init(vs_phase_sampler *sampler, const vs_phase *phase) {
    sampler->phase = phase;
    sampler->whole = 1;
    sampler->cumulative = NULL;
    if (phase->kind != VS_PHASE_TABLE) {
        return VS_OK;
    }
    size_t cells = phase->count - 1;
    double *sum = malloc((cells + 1) * sizeof *sum);
    if (!sum) {
        return VS_ERR_MEMORY;
    }
    double width = 1 / (double)cells;
    sum[0] = 0;
    for (size_t i = 0; i < cells; i++) {
        double p = phase->value[i], step = phase->value[i + 1] - p;
        sum[i + 1] = sum[i] + cell_light((double)i * width, width, p, step, 1);
    }
    sampler->whole = sum[cells];
    if (!(sampler->whole > 0)) {
        free(sum);
        return VS_ERR_DOMAIN;
    }
    for (size_t i = 0; i <= cells; i++) {
        sum[i] /= sampler->whole;
    }
    sampler->cumulative = sum;
    return VS_OK;
}

void vs_phase_sampler_free(vs_phase_sampler *sampler) {
    free(sampler->cumulative);
    sampler->cumulative = NULL;
}

/* The cell in which a share of the light is reached. */
static size_t find_cell(const double *cumulative, size_t cells, double share) {
    size_t low = 0, high = cells;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (cumulative[middle] <= share) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return low;
}

static double table_cosine(const vs_phase_sampler *sampler, double share) {
    const vs_phase *phase = sampler->phase;
    size_t cells = phase->count - 1, i = find_cell(sampler->cumulative, cells, share);
    double width = 1 / (double)cells, w = (double)i * width;
    double p = phase->value[i], step = phase->value[i + 1] - p;
    double wanted = (share - sampler->cumulative[i]) * sampler->whole;
    double whole = cell_light(w, width, p, step, 1);
    double s = whole > 0 ? fmin(wanted / whole, 1) : 0.5;
    /* near either end of the table light grows as the square of the distance from it */
    s = i == 0 ? sqrt(s) : i + 1 == cells ? 1 - sqrt(1 - s) : s;
    for (int n = 0; n < NEWTON_STEPS; n++) {
        double slope = cell_slope(w, width, p, step, s);
        if (!(slope > 0)) {
            break;
        }
        double next = s - (cell_light(w, width, p, step, s) - wanted) / slope;
        next = fmin(fmax(next, 0), 1);
        if (next == s) {
            break;
        }
        s = next;
    }
    return vs_phase_table_cosine(w + width * s);
}

double vs_phase_sampler_cosine(const vs_phase_sampler *sampler, double share) {
    if (sampler->cumulative) {
        return table_cosine(sampler, share);
    }
    double g = sampler->phase->g;
    if (fabs(g) < G_SMALL) {
        /* first order in g of the same inverse */
        double even = 1 - 2 * share;
        return fmin(1, even + 1.5 * g * (1 - even * even));
    }
    /* the inverse of Henyey-Greenstein's cumulative distribution */
    double part = (1 - g) * (1 + g) / (1 + g - 2 * g * share);
    return fmin(fmax((1 + g * g - part * part) / (2 * g), -1), 1);
}

double vs_phase_sampler_per_sr(const vs_phase_sampler *sampler, double cos_angle) {
    return vs_phase_per_sr(sampler->phase, cos_angle) / sampler->whole;
}
