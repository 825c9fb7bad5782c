/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. A grade fitted to noisy pixels draws colours together, because a noisy pixel's
 * colour is mostly noise. Means of patches avoid that. */
#include "picture/pair/pair_fit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/fit.h"
#include "veilstop/base/robust.h"
#include "veilstop/camera/cdl.h"

#define CODES         ((size_t)VS_PICTURE_FULL + 1) /* code values a sample can have */
#define CDL_TOLERANCE 1e-5 /* [1] of the squared errors: far below what a frame shows */
/* [signal] apparent colour from quantisation and moved objects: our choice */
#define COLOUR_LEAST 0.01
/* [deviations] of a patch, amplified by the grade: our choice */
#define COLOUR_NOISES 4
/* [1] 1.4826/2: deviation of a pixel by the median step of four pixels' noise */
#define NOISE_OF_STEP 0.74130
#define CELLS         ((size_t)28) /* a side; each gives the fit one patch */
#define PATCH_MOST    ((size_t)16) /* [pixels] a side: noise down to a sixteenth; our choice */
#define SHARE_LEAST   0.05         /* [1] of a grade: a weaker grade is dropped */
#define ROW           4            /* red, green, blue, 1 */

static vs_bands signal_of(const uint16_t *pixel) {
    vs_bands signal;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        signal.v[band] = (double)pixel[band] / VS_PICTURE_FULL;
    }
    return signal;
}

/* ---- samples ---- */

/* The mean of a patch in both frames, if they overlap there; false if not. */
static bool patch_mean(const vs_pair_frames *f, size_t x0, size_t y0, size_t wide, size_t high,
                       vs_cdl_sample *mean) {
    vs_bands from = vs_bands_grey(0), to = vs_bands_grey(0);
    size_t used = 0;
    for (size_t y = y0; y < y0 + high && y < f->clear->height; y++) {
        for (size_t x = x0; x < x0 + wide && x < f->clear->width; x++) {
            const uint16_t *q = vs_pair_partner(f, x, y);
            if (q) {
                from = vs_bands_add(from, signal_of(q));
                to = vs_bands_add(to, signal_of(vs_picture_at(f->clear, x, y)));
                used++;
            }
        }
    }
    mean->from = vs_bands_scale(from, 1 / fmax(1, (double)used));
    mean->to = vs_bands_scale(to, 1 / fmax(1, (double)used));
    return used > 0;
}

/* The noise of one pixel: half the median change of red - green from pixel to pixel along a row of
 * the hazed frame, which texture of a single colour does not affect. */
static double pixel_noise(const vs_pair_frames *f) {
    double step[CELLS * CELLS];
    size_t count = 0;
    for (size_t cell = 0; cell < CELLS * CELLS && f->hazed->width > 1; cell++) {
        size_t x = cell % CELLS * (f->hazed->width - 1) / CELLS;
        size_t y = cell / CELLS * f->hazed->height / CELLS;
        const uint16_t *q = vs_picture_at(f->hazed, x, y);
        double off = ((double)q[0] - q[1]) - ((double)q[3] - q[4]);
        step[count++] = fabs(off) / VS_PICTURE_FULL;
    }
    return count > 0 ? NOISE_OF_STEP * vs_median(step, count) : 0;
}

static size_t patch_side(size_t pixels) {
    size_t cell = pixels / CELLS;
    return cell < 1 ? 1 : cell > PATCH_MOST ? PATCH_MOST : cell;
}

/* Cells along a side: of frames smaller than the cells are many, no pixel is taken twice. */
static size_t cells_along(size_t pixels) {
    return pixels < CELLS ? pixels : CELLS;
}

/* A patch from each cell, at pseudo-random positions. */
static size_t take_samples(const vs_pair_frames *f, vs_cdl_sample *sample) {
    size_t columns = cells_along(f->clear->width), rows = cells_along(f->clear->height);
    size_t count = 0, wide = patch_side(f->clear->width), high = patch_side(f->clear->height);
    uint32_t random = 1;
    for (size_t cell = 0; cell < columns * rows; cell++) {
        random = random * 1664525u + 1013904223u; /* Numerical Recipes' quick generator */
        double room_x = (double)(f->clear->width / columns) - (double)wide;
        double room_y = (double)(f->clear->height / rows) - (double)high;
        double x = (double)(cell % columns) * (double)f->clear->width / (double)columns;
        double y = (double)(cell / columns) * (double)f->clear->height / (double)rows;
        x += fmax(0, room_x) * (random >> 16 & 0xff) / 256.0;
        y += fmax(0, room_y) * (random >> 24) / 256.0;
        count += patch_mean(f, (size_t)x, (size_t)y, wide, high, &sample[count]);
    }
    return count;
}

/* ---- a grade over whole frames ---- */

/* A CDL or a matrix in one form, so that one loop measures both. */
typedef struct {
    const float *curve; /* CODES per band: each channel alone, before mixing */
    float mix[3][ROW];  /* out = mix (channels, 1) */
} applied;

/* Slope, offset and power of a CDL for every code value, band after band. */
static void fill_codes(const vs_cdl *cdl, float *sop) {
    vs_cdl without_saturation = *cdl; /* saturation mixes channels, so it is not in the table */
    without_saturation.saturation = 1;
    for (size_t i = 0; i < CODES; i++) {
        vs_bands grey = vs_bands_grey((double)i / VS_PICTURE_FULL);
        vs_bands out = vs_cdl_apply(&without_saturation, grey);
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            sop[CODES * band + i] = (float)out.v[band];
        }
    }
}

/* Sum of squares of hazed - clear over `count` pixels of a row, the hazed ones graded. */
static double row_error(const uint16_t *p, const uint16_t *q, size_t count, const applied *g) {
    double sum = 0;
    for (size_t x = 0; x < count; x++, p += 3, q += 3) {
        float c[3] = {g->curve[q[0]], g->curve[CODES + q[1]], g->curve[2 * CODES + q[2]]};
        float off_square = 0;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            const float *m = g->mix[band];
            float out = m[0] * c[0] + m[1] * c[1] + m[2] * c[2] + m[3];
            out = out < 0 ? 0 : out > 1 ? 1 : out;
            float off = out - (float)p[band] * (1.0f / VS_PICTURE_FULL);
            off_square += off * off;
        }
        sum += (double)off_square;
    }
    return sum;
}

/* Root mean square of hazed - clear in code values where the frames overlap, with the shift removed
 * and the hazed one graded. */
static double frame_error(const vs_pair_frames *f, const applied *g) {
    size_t left = f->shift_x < 0 ? (size_t)-f->shift_x : 0;
    size_t right = f->shift_x > 0 ? (size_t)f->shift_x : 0;
    size_t wide = f->clear->width - left - right, rows = 0;
    double sum = 0;
    for (size_t y = 0; y < f->clear->height; y++) {
        const uint16_t *q = vs_pair_partner(f, left, y);
        if (q) {
            sum += row_error(vs_picture_at(f->clear, left, y), q, wide, g);
            rows++;
        }
    }
    return sqrt(sum / (3.0 * (double)(wide * rows)));
}

static double cdl_error(const vs_pair_frames *f, const vs_cdl *cdl, float *codes) {
    fill_codes(cdl, codes);
    applied g = {codes, {{0}}};
    const float luma[VS_BAND_COUNT] = {(float)VS_LUMA_RED, (float)VS_LUMA_GREEN,
                                       (float)VS_LUMA_BLUE};
    float s = (float)cdl->saturation;
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        for (int k = 0; k < VS_BAND_COUNT; k++) {
            g.mix[i][k] = (1 - s) * luma[k] + (i == k ? s : 0);
        }
    }
    return frame_error(f, &g);
}

static double matrix_error(const vs_pair_frames *f, const vs_pair_matrix *matrix, float *codes) {
    const vs_cdl nothing = vs_cdl_identity();
    fill_codes(&nothing, codes);
    applied g = {codes, {{0}}};
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        for (int k = 0; k < ROW; k++) {
            g.mix[i][k] = (float)matrix->m[i][k];
        }
    }
    return frame_error(f, &g);
}

/* ---- the CDL ---- */

/* A weakened CDL: share 1 is the CDL itself, 0 the identity. */
static vs_cdl weaker_cdl(const vs_cdl *cdl, double share) {
    vs_cdl weak;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        weak.slope.v[band] = pow(cdl->slope.v[band], share);
        weak.offset.v[band] = share * cdl->offset.v[band];
        weak.power.v[band] = pow(cdl->power.v[band], share);
    }
    weak.saturation = pow(cdl->saturation, share);
    return weak;
}

/* Measures the fitted CDL over whole frames and weakens it until it helps, down to the identity. */
static void take_cdl(const vs_pair_frames *f, const vs_cdl *fitted, float *codes, vs_pair *pair) {
    for (double share = 1; share > SHARE_LEAST; share *= 0.5) {
        pair->cdl = weaker_cdl(fitted, share);
        pair->error_after = cdl_error(f, &pair->cdl, codes);
        if (pair->error_after < pair->error_before) {
            pair->held_back = share < 1;
            return;
        }
    }
    pair->held_back = pair->error_before > 0;
    pair->cdl = vs_cdl_identity();
    pair->error_after = pair->error_before;
}

/* ---- the matrix ---- */

static vs_pair_matrix no_matrix(void) {
    vs_pair_matrix none = {{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}}};
    return none;
}

static vs_pair_matrix weaker_matrix(const vs_pair_matrix *matrix, double share) {
    vs_pair_matrix weak = no_matrix();
    for (int i = 0; i < VS_BAND_COUNT; i++) {
        for (int k = 0; k < ROW; k++) {
            weak.m[i][k] += share * (matrix->m[i][k] - weak.m[i][k]);
        }
    }
    return weak;
}

/* The slope of one channel's own line, towards which its row of the matrix is drawn if the frames
 * have too little colour to distinguish the channels. */
static double own_slope(const vs_cdl_sample *sample, size_t count, size_t band) {
    double x = 0, y = 0, xx = 0, xy = 0, n = (double)count;
    for (size_t i = 0; i < count; i++) {
        double from = sample[i].from.v[band], to = sample[i].to.v[band];
        x += from;
        y += to;
        xx += from * from;
        xy += from * to;
    }
    double spread = xx - x * x / n;
    return spread > 0 ? (xy - x * y / n) / spread : 1;
}

/* One row by linear least squares, with three more equations that draw it towards its own channel's
 * line. */
static vs_status fit_row(const vs_cdl_sample *sample, size_t count, size_t band,
                         double colour_least, double *row, double *work) {
    double *equation = work, *wanted = work + ROW * (count + VS_BAND_COUNT);
    double pull = colour_least * sqrt((double)count);
    for (size_t i = 0; i < count; i++) {
        memcpy(equation + ROW * i, sample[i].from.v, sizeof sample[i].from.v);
        equation[ROW * i + VS_BAND_COUNT] = 1;
        wanted[i] = sample[i].to.v[band];
    }
    for (size_t k = 0; k < VS_BAND_COUNT; k++) {
        double *drawn = equation + ROW * (count + k);
        memset(drawn, 0, ROW * sizeof *drawn);
        drawn[k] = pull;
        wanted[count + k] = k == band ? pull * own_slope(sample, count, band) : 0;
    }
    return vs_fit_linear(equation, wanted, count + VS_BAND_COUNT, ROW, row);
}

static vs_status fit_matrix(const vs_cdl_sample *sample, size_t count, double colour_least,
                            vs_pair_matrix *matrix) {
    double *work = malloc((ROW + 1) * (count + VS_BAND_COUNT) * sizeof *work);
    vs_status status = work ? VS_OK : VS_ERR_MEMORY;
    for (size_t b = 0; b < VS_BAND_COUNT && status == VS_OK; b++) {
        status = fit_row(sample, count, b, colour_least, matrix->m[b], work);
    }
    free(work);
    return status;
}

static void take_matrix(const vs_pair_frames *f, const vs_pair_matrix *fitted, float *codes,
                        vs_pair *pair) {
    for (double share = 1; share > SHARE_LEAST; share *= 0.5) {
        pair->matrix = weaker_matrix(fitted, share);
        pair->error_matrix = matrix_error(f, &pair->matrix, codes);
        if (pair->error_matrix < pair->error_before) {
            return;
        }
    }
    pair->matrix = no_matrix();
    pair->error_matrix = pair->error_before;
}

/* ---- both ---- */

static vs_status fit_samples(const vs_pair_frames *f, vs_cdl *cdl, vs_pair_matrix *matrix) {
    double patch = (double)(patch_side(f->clear->width) * patch_side(f->clear->height));
    double colour_least = COLOUR_LEAST + COLOUR_NOISES * pixel_noise(f) / sqrt(patch);
    const vs_cdl_goal goal = {.tolerance = CDL_TOLERANCE, .colour_least = colour_least};
    vs_cdl_sample *sample = malloc(CELLS * CELLS * sizeof *sample);
    if (!sample) {
        return VS_ERR_MEMORY;
    }
    size_t count = take_samples(f, sample);
    vs_status status = vs_cdl_fit(sample, count, &goal, cdl, NULL);
    if (status == VS_OK) {
        status = fit_matrix(sample, count, colour_least, matrix);
    }
    free(sample);
    return status;
}

vs_status vs_pair_no_grades(const vs_pair_frames *frames, vs_pair *pair) {
    float *codes = malloc(VS_BAND_COUNT * CODES * sizeof *codes);
    if (!codes) {
        return VS_ERR_MEMORY;
    }
    pair->cdl = vs_cdl_identity();
    pair->matrix = no_matrix();
    pair->error_before = matrix_error(frames, &pair->matrix, codes);
    pair->error_after = pair->error_matrix = pair->error_before;
    free(codes);
    return VS_OK;
}

vs_status vs_pair_fit_grades(const vs_pair_frames *frames, vs_pair *pair) {
    vs_status status = vs_pair_no_grades(frames, pair);
    float *codes = malloc(VS_BAND_COUNT * CODES * sizeof *codes);
    if (status != VS_OK || !codes) {
        free(codes);
        return VS_ERR_MEMORY;
    }
    vs_cdl cdl;
    vs_pair_matrix matrix;
    status = fit_samples(frames, &cdl, &matrix);
    if (status == VS_OK) {
        take_cdl(frames, &cdl, codes, pair);
        take_matrix(frames, &matrix, codes, pair);
    }
    free(codes);
    return status;
}
