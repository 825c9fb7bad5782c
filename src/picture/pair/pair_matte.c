/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "picture/pair/pair_matte.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/minimum.h"
#include "veilstop/base/robust.h"

#define SPAN         8.0   /* [1] the source lies between 1/8 and 8 times its first guess */
#define SCAN         13    /* sources tried in that range before refining the best */
#define SPAN_AGAIN   1.5   /* [1] the same once it is nearly right */
#define NARROW       1e-3  /* [1] of the source's logarithm */
#define CONTRAST     1e-3  /* [scene-linear] of a window whose slope can be found */
#define FINE         3     /* [blocks] half a window: our choice, as are the following */
#define WIDE         12    /* [blocks] half of the wider window */
#define DRAWN        0.003 /* [scene-linear] off the haze's own light: less shows no transmission */
#define LEAST        0.02  /* [1] transmission: below this only noise is left */
#define GUIDE_EDGE   0.03  /* [signal] steps of the guide from here up are edges */
#define LOSS_LEAST   0.02  /* [1] contrast lost: below this the source is unknown */
#define BIWEIGHT     4.685 /* [deviations] Holland & Welsch 1977 */
#define MAD_TO_SIGMA 1.4826 /* [1] 1/Phi^-1(3/4) */
#define SCALE_LEAST  1e-5   /* [scene-linear] scatter always allowed */

/* Sums over blocks by their weights, of clear and hazed light: what a window's transmission follows
 * from, whatever the source. */
typedef struct {
    double weight, clear[VS_BAND_COUNT], hazed[VS_BAND_COUNT];
    double clear_clear, clear_hazed; /* over all bands */
} block_sums;

typedef struct {
    const vs_pair_blocks *b;
    vs_bands source;
    double whole; /* [1] transmission of the single depth, used where a place gives none */
    double *t, *wide_t, *weight, *guide, *slope, *offset, *work; /* one per block */
    block_sums *sums; /* corner of blocks: over all above it and to its left (Crow 1984) */
} fields;

/* The blocks within `half` of one: columns c0..c1-1, rows r0..r1-1. */
typedef struct {
    size_t c0, c1, r0, r1;
} window;

static window window_at(const vs_pair_blocks *b, size_t i, size_t half) {
    size_t column = i % b->columns, row = i / b->columns;
    window w = {column > half ? column - half : 0, column + half + 1, row > half ? row - half : 0,
                row + half + 1};
    w.c1 = w.c1 < b->columns ? w.c1 : b->columns;
    w.r1 = w.r1 < b->rows ? w.r1 : b->rows;
    return w;
}

static bool usable(const vs_pair_blocks *b, size_t i) {
    return !isnan(b->clear[i].v[0]);
}

/* ---- transmission, given the source ---- */

/* Adds `factor` times some sums. */
static void add_sums(block_sums *all, const block_sums *some, double factor) {
    all->weight += factor * some->weight;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        all->clear[band] += factor * some->clear[band];
        all->hazed[band] += factor * some->hazed[band];
    }
    all->clear_clear += factor * some->clear_clear;
    all->clear_hazed += factor * some->clear_hazed;
}

static block_sums sums_of_block(const fields *f, size_t i) {
    block_sums sums = {0};
    double weight = f->weight[i];
    if (!usable(f->b, i)) {
        return sums;
    }
    sums.weight = weight;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double c = f->b->clear[i].v[band], h = f->b->hazed[i].v[band];
        sums.clear[band] = weight * c;
        sums.hazed[band] = weight * h;
        sums.clear_clear += weight * c * c;
        sums.clear_hazed += weight * c * h;
    }
    return sums;
}

/* After each change of weights. */
static void sum_up(fields *f) {
    const size_t columns = f->b->columns, across = columns + 1;
    for (size_t row = 0; row < f->b->rows; row++) { /* the first corners stay 0 */
        const block_sums *above = f->sums + row * across;
        block_sums *corner = f->sums + (row + 1) * across, of_row = {0};
        for (size_t column = 0; column < columns; column++) {
            block_sums here = sums_of_block(f, row * columns + column);
            add_sums(&of_row, &here, 1);
            corner[column + 1] = above[column + 1];
            add_sums(&corner[column + 1], &of_row, 1);
        }
    }
}

/* The slope of hazed against clear light, both less the source, in the blocks around one. */
static double window_t(const fields *f, size_t i, size_t half, double drawn_to) {
    const size_t across = f->b->columns + 1;
    window w = window_at(f->b, i, half);
    block_sums sums = f->sums[w.r1 * across + w.c1];
    add_sums(&sums, &f->sums[w.r0 * across + w.c1], -1);
    add_sums(&sums, &f->sums[w.r1 * across + w.c0], -1);
    add_sums(&sums, &f->sums[w.r0 * across + w.c0], 1);
    double top = sums.clear_hazed, bottom = sums.clear_clear;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double s = f->source.v[band];
        top += s * (s * sums.weight - sums.clear[band] - sums.hazed[band]);
        bottom += s * (s * sums.weight - 2 * sums.clear[band]);
    }
    double pull = 3 * fmax(sums.weight, 1) * DRAWN * DRAWN;
    return fmin(1, fmax(LEAST, (top + pull * drawn_to) / (fmax(bottom, 0) + pull)));
}

static void find_t(fields *f) {
    for (size_t i = 0; i < f->b->count; i++) {
        f->wide_t[i] = window_t(f, i, WIDE, f->whole);
    }
    for (size_t i = 0; i < f->b->count; i++) {
        f->t[i] = window_t(f, i, FINE, f->wide_t[i]);
    }
}

/* ---- the source, given transmission ---- */

/* The slope and veil of a window by itself, for a first estimate of the source. */
static double window_line(const fields *f, size_t i, vs_bands *veil, double *variance) {
    window w = window_at(f->b, i, FINE);
    double n = 0, cc = 0, ch = 0, c[VS_BAND_COUNT] = {0}, h[VS_BAND_COUNT] = {0};
    for (size_t row = w.r0; row < w.r1; row++) {
        for (size_t column = w.c0; column < w.c1; column++) {
            size_t k = row * f->b->columns + column;
            for (int band = 0; usable(f->b, k) && band < VS_BAND_COUNT; band++) {
                double x = f->b->clear[k].v[band], y = f->b->hazed[k].v[band];
                c[band] += x;
                h[band] += y;
                cc += x * x;
                ch += x * y;
            }
            n += usable(f->b, k);
        }
    }
    for (int band = 0; n > 0 && band < VS_BAND_COUNT; band++) {
        cc -= c[band] * c[band] / n;
        ch -= c[band] * h[band] / n;
    }
    *variance = n > 0 ? fmax(0, cc / n) : 0;
    double slope = cc > 0 ? fmin(1, fmax(LEAST, ch / cc)) : 1;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        veil->v[band] = n > 0 ? (h[band] - slope * c[band]) / n : 0;
    }
    return cc > 0 ? slope : (double)NAN;
}

/* The first estimate: the ratio of veil to loss in most windows, weighted by loss. False if nothing
 * is lost anywhere. */
static bool first_source(fields *f) {
    double bottom = 0, top[VS_BAND_COUNT] = {0};
    for (size_t i = 0; i < f->b->count; i++) {
        vs_bands veil;
        double variance, lost = 1 - window_line(f, i, &veil, &variance);
        double weight = variance / (variance + CONTRAST * CONTRAST);
        for (int band = 0; lost > LOSS_LEAST && band < VS_BAND_COUNT; band++) {
            top[band] += weight * lost * veil.v[band];
        }
        bottom += lost > LOSS_LEAST ? weight * lost * lost : 0;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        f->source.v[band] = bottom > 0 ? fmax(0, top[band] / bottom) : 0;
    }
    return bottom > 0;
}

static double residual(const fields *f, size_t i, int band) {
    double t = f->t[i];
    return f->b->hazed[i].v[band] - t * f->b->clear[i].v[band] - f->source.v[band] * (1 - t);
}

/* Reduces the weights of blocks that fit badly. */
static void weigh(fields *f) {
    size_t count = 0;
    for (size_t i = 0; i < f->b->count; i++) {
        if (usable(f->b, i)) {
            f->work[count++] = fabs(residual(f, i, VS_BAND_GREEN));
        }
    }
    double reach = BIWEIGHT * fmax(SCALE_LEAST, MAD_TO_SIGMA * vs_median(f->work, count));
    for (size_t i = 0; i < f->b->count; i++) {
        double u = usable(f->b, i) ? residual(f, i, VS_BAND_GREEN) / reach : 1;
        f->weight[i] = fabs(u) < 1 ? (1 - u * u) * (1 - u * u) : 0;
    }
    sum_up(f);
}

/* A search for the source along one direction: all bands together, or one. */
typedef struct {
    fields *f;
    vs_bands from;
    int band; /* VS_BAND_COUNT: all */
} search;

/* The squared errors for a source, with the best transmission for it. */
static double cost(double logarithm, void *context) {
    search *s = context;
    fields *f = s->f;
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        bool moved = s->band == VS_BAND_COUNT || s->band == b;
        f->source.v[b] = s->from.v[b] * (moved ? exp(logarithm) : 1);
    }
    find_t(f);
    double sum = 0;
    for (size_t i = 0; i < f->b->count; i++) {
        for (int b = 0; usable(f->b, i) && b < VS_BAND_COUNT; b++) {
            double off = residual(f, i, b);
            sum += f->weight[i] * off * off;
        }
    }
    return sum;
}

/* Finds the best factor on the source within a range and applies it, with its transmission. */
static vs_status find_source(fields *f, int band, double range) {
    search s = {f, f->source, band};
    double step = 2 * log(range) / (SCAN - 1), least = INFINITY, best = 0;
    for (int k = 0; k < SCAN; k++) {
        double at = -log(range) + k * step, here = cost(at, &s);
        best = here < least ? at : best;
        least = fmin(least, here);
    }
    vs_minimum found = {best, least};
    if (least < cost(best - step, &s) && least < cost(best + step, &s)) {
        vs_status status =
            vs_minimum_brent(cost, &s, best - step, best, best + step, NARROW, -INFINITY, &found);
        if (status == VS_ERR_MEMORY) {
            return status;
        }
        found.x = status == VS_OK ? found.x : best;
    }
    cost(found.x, &s);
    return VS_OK;
}

/* ---- the guided filter ---- */

static void guide_line(const fields *f, size_t i, double *slope, double *offset) {
    window w = window_at(f->b, i, FINE);
    double n = 0, g = 0, t = 0, gg = 0, gt = 0;
    for (size_t row = w.r0; row < w.r1; row++) {
        for (size_t column = w.c0; column < w.c1; column++) {
            size_t k = row * f->b->columns + column;
            double here = f->guide[k];
            n++;
            g += here;
            t += f->t[k];
            gg += here * here;
            gt += here * f->t[k];
        }
    }
    *slope = (gt - g * t / n) / (gg - g * g / n + n * GUIDE_EDGE * GUIDE_EDGE);
    *offset = (t - *slope * g) / n;
}

/* The mean of a field over the windows, into `out`. */
static void box(const fields *f, const double *in, double *out) {
    for (size_t i = 0; i < f->b->count; i++) {
        window w = window_at(f->b, i, FINE);
        double sum = 0;
        for (size_t row = w.r0; row < w.r1; row++) {
            for (size_t column = w.c0; column < w.c1; column++) {
                sum += in[row * f->b->columns + column];
            }
        }
        out[i] = sum / (double)((w.c1 - w.c0) * (w.r1 - w.r0));
    }
}

static void find_lines(fields *f, const vs_curve *curve) {
    for (size_t i = 0; i < f->b->count; i++) {
        double x = usable(f->b, i) ? vs_bands_luminance(f->b->clear[i]) : vs_curve_top(curve);
        f->guide[i] = fmin(1, fmax(0, vs_curve_encode(curve, x)));
    }
    for (size_t i = 0; i < f->b->count; i++) {
        guide_line(f, i, &f->slope[i], &f->work[i]);
    }
    box(f, f->work, f->offset);
    memcpy(f->work, f->slope, f->b->count * sizeof *f->work);
    box(f, f->work, f->slope);
}

/* A field interpolated between the middles of its blocks. */
static double between(const fields *f, const double *field, double column, double row) {
    double last_c = (double)f->b->columns - 1, last_r = (double)f->b->rows - 1;
    column = fmin(last_c, fmax(0, column));
    row = fmin(last_r, fmax(0, row));
    size_t c0 = (size_t)column, r0 = (size_t)row;
    size_t c1 = c0 + (c0 + 1 < f->b->columns), r1 = r0 + (r0 + 1 < f->b->rows);
    double u = column - (double)c0, v = row - (double)r0;
    const double *upper = field + r0 * f->b->columns, *lower = field + r1 * f->b->columns;
    return (1 - v) * ((1 - u) * upper[c0] + u * upper[c1]) +
           v * ((1 - u) * lower[c0] + u * lower[c1]);
}

static double pixel_t(const fields *f, const uint16_t *clear, size_t x, size_t y) {
    double column = ((double)x + 0.5) / (double)f->b->side - 0.5;
    double row = ((double)y + 0.5) / (double)f->b->side - 0.5;
    double guide = (VS_LUMA_RED * clear[0] + VS_LUMA_GREEN * clear[1] + VS_LUMA_BLUE * clear[2]) /
                   VS_PICTURE_FULL;
    double t = between(f, f->slope, column, row) * guide + between(f, f->offset, column, row);
    return fmin(1, fmax(LEAST, t));
}

/* ---- the picture and its error ---- */

/* Squared errors of one pixel after its haze is removed by the map. */
static double pixel_error(const fields *f, const vs_curve *curve, const float *linear, double t,
                          const uint16_t *clear, const uint16_t *hazed) {
    double sum = 0;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double source = f->source.v[band];
        double x = ((double)linear[hazed[band]] - source) / t + source;
        double code = fmin(1, fmax(0, vs_curve_encode(curve, x)));
        double off = code - (double)clear[band] / VS_PICTURE_FULL;
        sum += off * off;
    }
    return sum;
}

static void paint(const fields *f, const vs_pair_frames *frames, const vs_curve *curve,
                  const float *linear, vs_pair *pair, vs_picture *matte) {
    double sum = 0;
    size_t count = 0;
    for (size_t y = 0; y < matte->height; y++) {
        for (size_t x = 0; x < matte->width; x++) {
            const uint16_t *clear = vs_picture_at(frames->clear, x, y);
            const uint16_t *hazed = vs_pair_partner(frames, x, y);
            double t = pixel_t(f, clear, x, y);
            uint16_t *out = vs_picture_at(matte, x, y);
            out[0] = out[1] = out[2] = (uint16_t)lrint(VS_PICTURE_FULL * t);
            if (hazed) {
                sum += pixel_error(f, curve, linear, t, clear, hazed);
                count++;
            }
        }
    }
    pair->error_matte = sqrt(sum / (3.0 * (double)count));
    pair->source = f->source;
}

/* All bands together first; then, with bad fits weighted down, each band alone and all again. */
static vs_status find_all(fields *f) {
    vs_status status = find_source(f, VS_BAND_COUNT, SPAN);
    for (int band = 0; band <= VS_BAND_COUNT && status == VS_OK; band++) {
        weigh(f);
        status = find_source(f, band, SPAN_AGAIN);
    }
    return status;
}

static vs_status solve(fields *f, const vs_curve *curve) {
    for (size_t i = 0; i < f->b->count; i++) {
        f->weight[i] = 1;
        f->t[i] = 1;
    }
    sum_up(f);
    vs_status status = first_source(f) ? find_all(f) : VS_OK;
    find_lines(f, curve);
    return status;
}

vs_status vs_pair_draw_matte(const vs_pair_blocks *blocks, const vs_pair_frames *frames,
                             const vs_curve *curve, const float *linear, vs_pair *pair,
                             vs_picture *matte) {
    const size_t n = blocks->count;
    double *memory = malloc(7 * n * sizeof *memory);
    block_sums *sums = calloc((blocks->columns + 1) * (blocks->rows + 1), sizeof *sums);
    vs_status status = memory && sums
                           ? vs_picture_init(matte, frames->clear->width, frames->clear->height, 16)
                           : VS_ERR_MEMORY;
    if (status == VS_OK) {
        fields f = {.b = blocks,
                    .whole = vs_bands_luminance(pair->depth.transmission),
                    .t = memory,
                    .wide_t = memory + n,
                    .weight = memory + 2 * n,
                    .guide = memory + 3 * n,
                    .slope = memory + 4 * n,
                    .offset = memory + 5 * n,
                    .work = memory + 6 * n,
                    .sums = sums};
        status = solve(&f, curve);
        if (status == VS_OK) {
            paint(&f, frames, curve, linear, pair, matte);
        } else {
            vs_picture_free(matte);
        }
    }
    free(sums);
    free(memory);
    return status;
}
