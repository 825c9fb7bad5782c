/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze measured between two frames: whether they match and how far one is shifted, block means, a
 * robust line per band, the share explained and its map, grades, the map of transmission.
 */
#include "veilstop/picture/pair.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "picture/pair/pair_blocks.h"
#include "picture/pair/pair_fit.h"
#include "picture/pair/pair_match.h"
#include "picture/pair/pair_matte.h"
#include "veilstop/base/robust.h"
#include "veilstop/base/statistics.h"
#include "veilstop/camera/camera.h"

#define CODES              ((size_t)VS_PICTURE_FULL + 1) /* code values a sample can have */
#define BLOCK_LEAST        12                            /* fewest blocks for a line: our choice */
#define SPREAD_LEAST       2e-3 /* [scene-linear] 5th to 95th percentile, if there are tones */
#define FLOOR_LINEAR       (VS_CAMERA_GREY_LINEAR / 64) /* [scene-linear] in logs: six stops down */
#define RAISED             1.02                         /* [1] transmission too high to be noise */
#define RAISED_VEIL        -2e-3 /* [scene-linear] negative veil that indicates swapped frames */
#define SWAPPED_SHARE      0.8   /* [1] of the frame must agree before it is reported: our choice */
#define TRANSMISSION_LEAST 1e-3  /* [1] below this a frame shows only veil */
#define MAP_FULL_STOPS     0.5   /* [stops] deviation shown in full colour in the map; our choice */
#define MAP_GREY           0.35  /* [1] brightness of the frame in the map: our choice */

static float *linear_table(const vs_curve *curve) {
    float *table = malloc(CODES * sizeof *table);
    for (size_t i = 0; table && i < CODES; i++) {
        table[i] = (float)vs_curve_decode(curve, (double)i / VS_PICTURE_FULL);
    }
    return table;
}

/* Copies one band of the usable blocks; returns their number. */
static size_t band_of(const vs_pair_blocks *b, const vs_bands *mean, int band, double *out) {
    size_t count = 0;
    for (size_t i = 0; i < b->count; i++) {
        if (!isnan(mean[i].v[band])) {
            out[count++] = mean[i].v[band];
        }
    }
    return count;
}

/* Whether a frame has tones to measure; otherwise a fault. work: b->count. */
static bool has_tones(const vs_pair_blocks *b, const vs_bands *mean, double *work,
                      vs_faults *faults) {
    size_t count = band_of(b, mean, VS_BAND_GREEN, work);
    if (count < BLOCK_LEAST) {
        vs_faults_add(faults, "",
                      "must have room to measure: at least 8 x 8 pixels and most of "
                      "them not clipped (got %zu usable parts)",
                      count);
        return false;
    }
    vs_sort(work, count);
    double low = vs_quantile(work, count, 0.05), high = vs_quantile(work, count, 0.95);
    if (!(high - low >= SPREAD_LEAST)) {
        vs_faults_add(faults, "",
                      "must show light and dark things (got one tone all over, %.2g of "
                      "full scale)",
                      0.5 * (low + high));
        return false;
    }
    return true;
}

/* Restricts a band's line to what haze can do: 0 < T <= 1, V >= 0. x, y, work: count. */
static void hold_physical(vs_line *line, const double *x, const double *y, size_t count,
                          double *work) {
    if (line->slope > 1) {
        for (size_t i = 0; i < count; i++) {
            work[i] = y[i] - x[i];
        }
        line->slope = 1;
        line->intercept = vs_median(work, count);
    }
    if (line->intercept < 0) {
        size_t used = 0;
        for (size_t i = 0; i < count; i++) {
            if (x[i] > FLOOR_LINEAR) {
                work[used++] = y[i] / x[i];
            }
        }
        line->intercept = 0;
        line->slope = used > 0 ? fmin(1, vs_median(work, used)) : fmin(1, line->slope);
    }
    line->slope = fmax(line->slope, TRANSMISSION_LEAST);
}

static double stops_off(double got, double expected) {
    return log2((fmax(got, 0) + FLOOR_LINEAR) / (fmax(expected, 0) + FLOOR_LINEAR));
}

/* Deviation of a block from what a depth explains: that of the worst band, with its sign. */
static double block_off(const vs_pair_blocks *b, size_t i, const vs_depth *depth) {
    vs_bands expected = vs_depth_haze(depth, b->clear[i]);
    double worst = 0;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double off = stops_off(b->hazed[i].v[band], expected.v[band]);
        worst = fabs(off) > fabs(worst) || isnan(off) ? off : worst;
    }
    return worst;
}

static double share_explained(const vs_pair_blocks *b, const vs_depth *depth) {
    size_t usable = 0, explained = 0;
    for (size_t i = 0; i < b->count; i++) {
        double off = block_off(b, i, depth);
        usable += !isnan(off);
        explained += fabs(off) <= VS_PAIR_EXPLAINED_STOPS;
    }
    return usable > 0 ? (double)explained / (double)usable : 0;
}

/* The depth that fits most of the frame; `free_depth` is the same without that restriction. */
static vs_status find_depth(const vs_pair_blocks *b, vs_depth *depth, vs_depth *free_depth) {
    double *memory = malloc(3 * b->count * sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    double *x = memory, *y = memory + b->count, *work = memory + 2 * b->count;
    vs_status status = VS_OK;
    for (int band = 0; band < VS_BAND_COUNT && status == VS_OK; band++) {
        size_t count = band_of(b, b->clear, band, x);
        band_of(b, b->hazed, band, y);
        vs_line line;
        status = vs_robust_line(x, y, count, &line);
        if (status == VS_ERR_DOMAIN) { /* a band of a single tone: only its veil can be found */
            line.slope = 1;
            line.intercept = vs_median(y, count) - vs_median(x, count);
            status = VS_OK;
        }
        free_depth->transmission.v[band] = line.slope;
        free_depth->veil.v[band] = line.intercept;
        hold_physical(&line, x, y, count, work);
        depth->transmission.v[band] = line.slope;
        depth->veil.v[band] = line.intercept;
    }
    free(memory);
    return status;
}

/* Whether the frames are swapped: the first is the second seen through haze. */
static bool swapped(const vs_pair_blocks *b, const vs_depth *free_depth) {
    if (!(vs_bands_luminance(free_depth->transmission) > RAISED &&
          vs_bands_luminance(free_depth->veil) < RAISED_VEIL)) {
        return false;
    }
    vs_pair_blocks turned = *b;
    turned.clear = b->hazed;
    turned.hazed = b->clear;
    vs_depth depth;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        depth.transmission.v[band] = 1 / free_depth->transmission.v[band];
        depth.veil.v[band] = -free_depth->veil.v[band] / free_depth->transmission.v[band];
    }
    return share_explained(&turned, &depth) > SWAPPED_SHARE;
}

/* ---- the map ---- */

static const double more_haze[VS_BAND_COUNT] = {1, 0.55, 0.1}; /* orange: our choice */
static const double less_haze[VS_BAND_COUNT] = {0.2, 0.55, 1}; /* blue: our choice */

static vs_bands signal_of(const uint16_t *pixel) {
    vs_bands signal;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        signal.v[band] = (double)pixel[band] / VS_PICTURE_FULL;
    }
    return signal;
}

static void paint(const vs_picture *hazed, double off, size_t x, size_t y, uint16_t *out) {
    double grey = MAP_GREY * vs_bands_luminance(signal_of(vs_picture_at(hazed, x, y)));
    double strength = fabs(off) > VS_PAIR_EXPLAINED_STOPS ? fmin(1, fabs(off) / MAP_FULL_STOPS) : 0;
    const double *tint = off > 0 ? more_haze : less_haze;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double value = grey + strength * (tint[band] - grey);
        out[band] = (uint16_t)lrint(VS_PICTURE_FULL * fmin(1, fmax(0, value)));
    }
}

static vs_status draw_map(const vs_pair_blocks *b, const vs_picture *hazed, const vs_pair *pair,
                          vs_picture *map) {
    vs_status status = vs_picture_init(map, hazed->width, hazed->height, 8);
    for (size_t y = 0; status == VS_OK && y < map->height; y++) {
        for (size_t x = 0; x < map->width; x++) {
            double off = block_off(b, vs_pair_block_at(b, x, y), &pair->depth);
            paint(hazed, isnan(off) ? 0 : off, x, y, vs_picture_at(map, x, y));
        }
    }
    return status;
}

/* ---- putting it together ---- */

static vs_status measure(vs_pair_blocks *b, vs_pair *pair, vs_faults *clear_faults,
                         vs_faults *hazed_faults) {
    double *work = malloc(b->count * sizeof *work);
    if (!work) {
        return VS_ERR_MEMORY;
    }
    bool good = has_tones(b, b->clear, work, clear_faults);
    good = has_tones(b, b->hazed, work, hazed_faults) && good;
    free(work);
    if (!good) {
        return VS_ERR_INPUT;
    }
    vs_depth free_depth;
    vs_status status = find_depth(b, &pair->depth, &free_depth);
    if (status == VS_OK && swapped(b, &free_depth)) {
        vs_faults_add(hazed_faults, "",
                      "must have less contrast than the clear frame (got %.2f "
                      "times as much): are the frames swapped?",
                      vs_bands_luminance(free_depth.transmission));
        return VS_ERR_INPUT;
    }
    pair->explained = status == VS_OK ? share_explained(b, &pair->depth) : 0;
    return status;
}

static vs_status match(vs_pair_frames *frames, vs_pair *pair) {
    vs_status status = vs_pair_find_match(frames->clear, frames->hazed, &pair->shift_x,
                                          &pair->shift_y, &pair->match);
    frames->shift_x = pair->shift_x;
    frames->shift_y = pair->shift_y;
    size_t bytes = 3 * frames->clear->width * frames->clear->height * sizeof(uint16_t);
    if (status == VS_OK && memcmp(frames->clear->sample, frames->hazed->sample, bytes) == 0) {
        pair->match = VS_PAIR_IDENTICAL;
    }
    return status;
}

/* All that is calculated for frames that match. */
static vs_status work_out(const vs_pair_blocks *b, const vs_pair_frames *frames,
                          const vs_curve *curve, const float *linear, vs_pair *pair,
                          vs_picture *map, vs_picture *matte) {
    if (pair->match != VS_PAIR_SAME) {
        return vs_pair_no_grades(frames, pair);
    }
    vs_status status = vs_pair_fit_grades(frames, pair);
    if (status == VS_OK && map) {
        status = draw_map(b, frames->hazed, pair, map);
    }
    if (status == VS_OK && matte) {
        status = vs_pair_draw_matte(b, frames, curve, linear, pair, matte);
    }
    return status;
}

static bool sizes_agree(const vs_picture *clear, const vs_picture *hazed, vs_faults *faults) {
    if (clear->width == hazed->width && clear->height == hazed->height) {
        return true;
    }
    vs_faults_add(faults, "",
                  "must be as large as the clear frame, %zu x %zu pixels "
                  "(got %zu x %zu)",
                  clear->width, clear->height, hazed->width, hazed->height);
    return false;
}

vs_status vs_pair_compare(const vs_picture *clear, const vs_picture *hazed, const vs_curve *curve,
                          vs_pair *pair, vs_picture *map, vs_picture *matte,
                          vs_faults *clear_faults, vs_faults *hazed_faults) {
    memset(pair, 0, sizeof *pair);
    pair->error_matte = NAN;
    if (map) {
        memset(map, 0, sizeof *map);
    }
    if (matte) {
        memset(matte, 0, sizeof *matte);
    }
    if (!sizes_agree(clear, hazed, hazed_faults)) {
        return VS_ERR_INPUT;
    }
    vs_pair_frames frames = {clear, hazed, 0, 0};
    vs_pair_blocks b;
    vs_status status = vs_pair_blocks_init(&b, clear);
    float *linear = linear_table(curve);
    if (status != VS_OK || !linear) {
        status = VS_ERR_MEMORY;
        goto cleanup;
    }
    status = match(&frames, pair);
    if (status == VS_OK) {
        vs_pair_blocks_average(&b, &frames, linear);
        status = measure(&b, pair, clear_faults, hazed_faults);
    }
    if (status == VS_OK) {
        status = work_out(&b, &frames, curve, linear, pair, map, matte);
    }
cleanup:
    vs_pair_blocks_free(&b);
    free(linear);
    return status;
}
