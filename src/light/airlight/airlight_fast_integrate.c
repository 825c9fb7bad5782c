/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See airlight_fast_integrate.h. */
#include "light/airlight/airlight_fast_integrate.h"

#define HALVINGS_MAX 12 /* of one part */

/* An integral on its way. */
typedef struct {
    vs_fast_integrate *integrate;
    void *context;
    int band_count;
    double tail_max; /* absolute */
    double *sum;
} integral;

static void add_halved(const integral *in, double from, double to, const vs_fast_block *block,
                       int level) {
    if (block->tail <= in->tail_max || level == HALVINGS_MAX) {
        for (int band = 0; band < in->band_count; band++) {
            in->sum[band] += block->sum[band];
        }
        return;
    }
    double middle = 0.5 * (from + to);
    const double end[3] = {from, middle, to};
    for (int i = 0; i < 2; i++) {
        vs_fast_block half;
        in->integrate(in->context, end[i], end[i + 1], &half);
        add_halved(in, end[i], end[i + 1], &half, level + 1);
    }
}

/* All parts first: their sum shows which of them matter. */
void vs_fast_integrate_parts(vs_fast_integrate *integrate, void *context, const vs_fast_haze *haze,
                             double (*part)[2], int count, double tail_max, double *sum) {
    vs_fast_block block[VS_FAST_PARTS_MAX];
    double total = sum[haze->refine_band];
    for (int i = 0; i < count; i++) {
        integrate(context, part[i][0], part[i][1], &block[i]);
        total += block[i].sum[haze->refine_band];
    }
    const integral in = {integrate, context, haze->band_count, tail_max * total, sum};
    for (int i = 0; i < count; i++) {
        add_halved(&in, part[i][0], part[i][1], &block[i], 0);
    }
}
