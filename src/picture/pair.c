/* Haze measured between two frames. Stages: shift, block means, a robust line a band, share
 * explained and its map, CDL and its error. Each stage works on what the one before left. */
#include "veilstop/picture/pair.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "picture/pair_shift.h"
#include "veilstop/base/robust.h"
#include "veilstop/base/statistics.h"
#include "veilstop/camera/camera.h"

#define CODES              ((size_t)VS_PICTURE_FULL + 1) /* code values a sample can have */
#define BLOCK_GOAL         20000 /* blocks in a large frame: enough for a line, few to sort */
#define BLOCK_SIDE_MAX     64    /* [pixels] our choice */
#define BLOCK_SIDE_FEW     4     /* [pixels] the least where the frame allows: noise averages out */
#define BLOCK_LEAST        12    /* blocks that a line needs: our choice */
#define CLIP_CODE          65150 /* [code] 253.5 of 255: from here a pixel may be clipped */
#define SPREAD_LEAST       2e-3  /* [scene-linear] 5th to 95th part of a frame with tones at all */
#define FLOOR_LINEAR       (VS_CAMERA_GREY_LINEAR / 64) /* [scene-linear] in logs: six stops down */
#define CDL_TOLERANCE      1e-5 /* [1] of the squared errors: far below what a frame shows */
#define COLOUR_LEAST       0.01 /* [signal] colour that block noise may feign: our choice */
#define SAMPLE_SIDE        ((size_t)40) /* cells a side; each gives the CDL one pixel */
#define RAISED             1.02         /* [1] transmission that cannot be noise any more */
#define RAISED_VEIL        -2e-3 /* [scene-linear] veil under 0 that comes with frames swapped */
#define SWAPPED_SHARE      0.8   /* [1] of the frame must agree before we say so: our choice */
#define TRANSMISSION_LEAST 1e-3  /* [1] under this a frame shows nothing but veil */
#define MAP_FULL_STOPS     0.5   /* [stops] off by so much: full colour in the map; our choice */
#define MAP_GREY           0.35  /* [1] how bright the frame is in the map: our choice */

/* Means over blocks of side x side pixels, in scene-linear light. */
typedef struct {
    size_t columns, rows, side, count;
    vs_bands *clear, *hazed; /* NaN where too much is clipped */
} blocks;

static float *linear_table(const vs_curve *curve) {
    float *table = malloc(CODES * sizeof *table);
    for (size_t i = 0; table && i < CODES; i++) {
        table[i] = (float)vs_curve_decode(curve, (double)i / VS_PICTURE_FULL);
    }
    return table;
}

static size_t block_side(const vs_picture *picture) {
    size_t shorter = picture->width < picture->height ? picture->width : picture->height;
    size_t least = shorter / 8 < BLOCK_SIDE_FEW ? shorter / 8 : BLOCK_SIDE_FEW;
    double goal = sqrt((double)(picture->width * picture->height) / BLOCK_GOAL);
    size_t side = goal > BLOCK_SIDE_MAX ? BLOCK_SIDE_MAX : (size_t)goal;
    side = side < least ? least : side;
    return side > 0 ? side : 1;
}

static vs_status blocks_init(blocks *b, const vs_picture *picture) {
    memset(b, 0, sizeof *b);
    b->side = block_side(picture);
    b->columns = picture->width / b->side;
    b->rows = picture->height / b->side;
    b->count = b->columns * b->rows;
    b->clear = malloc(b->count * sizeof *b->clear);
    b->hazed = malloc(b->count * sizeof *b->hazed);
    return b->clear && b->hazed ? VS_OK : VS_ERR_MEMORY;
}

static void blocks_free(blocks *b) {
    free(b->clear);
    free(b->hazed);
}

static bool clipped(const uint16_t *pixel) {
    return pixel[0] >= CLIP_CODE || pixel[1] >= CLIP_CODE || pixel[2] >= CLIP_CODE;
}

/* The pixel of the hazed frame that shows what the clear one shows at x, y; NULL outside. */
static const uint16_t *partner(const vs_picture *hazed, const vs_pair *pair, size_t x, size_t y) {
    long px = (long)x + pair->shift_x, py = (long)y + pair->shift_y;
    bool inside = px >= 0 && py >= 0 && px < (long)hazed->width && py < (long)hazed->height;
    return inside ? vs_picture_at(hazed, (size_t)px, (size_t)py) : NULL;
}

static void average_block(blocks *b, size_t column, size_t row, const vs_picture *clear,
                          const vs_picture *hazed, const vs_pair *pair, const float *linear) {
    double sum[2][VS_BAND_COUNT] = {{0}};
    size_t used = 0;
    for (size_t y = row * b->side; y < (row + 1) * b->side; y++) {
        for (size_t x = column * b->side; x < (column + 1) * b->side; x++) {
            const uint16_t *p = vs_picture_at(clear, x, y), *q = partner(hazed, pair, x, y);
            if (!q || clipped(p) || clipped(q)) {
                continue;
            }
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                sum[0][band] += (double)linear[p[band]];
                sum[1][band] += (double)linear[q[band]];
            }
            used++;
        }
    }
    bool enough = 2 * used >= b->side * b->side;
    size_t place = row * b->columns + column;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        b->clear[place].v[band] = enough ? sum[0][band] / (double)used : (double)NAN;
        b->hazed[place].v[band] = enough ? sum[1][band] / (double)used : (double)NAN;
    }
}

static void average(blocks *b, const vs_picture *clear, const vs_picture *hazed,
                    const vs_pair *pair, const float *linear) {
    for (size_t row = 0; row < b->rows; row++) {
        for (size_t column = 0; column < b->columns; column++) {
            average_block(b, column, row, clear, hazed, pair, linear);
        }
    }
}

/* Copies one band of the usable blocks; how many there are. */
static size_t band_of(const blocks *b, const vs_bands *mean, int band, double *out) {
    size_t count = 0;
    for (size_t i = 0; i < b->count; i++) {
        if (!isnan(mean[i].v[band])) {
            out[count++] = mean[i].v[band];
        }
    }
    return count;
}

/* Whether a frame has tones to measure by; else a fault. work: b->count. */
static bool has_tones(const blocks *b, const vs_bands *mean, double *work, vs_faults *faults) {
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

/* Holds a band's line to what haze can do: 0 < T <= 1, V >= 0. x, y, work: count. */
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

/* How far a block is off what a depth explains: the band that is furthest off, with its sign. */
static double block_off(const blocks *b, size_t i, const vs_depth *depth) {
    vs_bands expected = vs_depth_haze(depth, b->clear[i]);
    double worst = 0;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double off = stops_off(b->hazed[i].v[band], expected.v[band]);
        worst = fabs(off) > fabs(worst) || isnan(off) ? off : worst;
    }
    return worst;
}

static double share_explained(const blocks *b, const vs_depth *depth) {
    size_t usable = 0, explained = 0;
    for (size_t i = 0; i < b->count; i++) {
        double off = block_off(b, i, depth);
        usable += !isnan(off);
        explained += fabs(off) <= VS_PAIR_EXPLAINED_STOPS;
    }
    return usable > 0 ? (double)explained / (double)usable : 0;
}

/* The depth that fits most of the frame; `free_depth` is the same without what haze can do. */
static vs_status find_depth(const blocks *b, vs_depth *depth, vs_depth *free_depth) {
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
        if (status == VS_ERR_DOMAIN) { /* a band that is one tone: only its veil can be told */
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

/* Whether the frames are the wrong way round: the first is the second seen through haze. */
static bool swapped(const blocks *b, const vs_depth *free_depth) {
    if (!(vs_bands_luminance(free_depth->transmission) > RAISED &&
          vs_bands_luminance(free_depth->veil) < RAISED_VEIL)) {
        return false;
    }
    blocks turned = *b;
    turned.clear = b->hazed;
    turned.hazed = b->clear;
    vs_depth depth;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        depth.transmission.v[band] = 1 / free_depth->transmission.v[band];
        depth.veil.v[band] = -free_depth->veil.v[band] / free_depth->transmission.v[band];
    }
    return share_explained(&turned, &depth) > SWAPPED_SHARE;
}

/* ---- the CDL ---- */

/* Slope, offset and power of a CDL for every code value, band after band. */
static void fill_codes(const vs_cdl *cdl, float *sop) {
    vs_cdl without_saturation = *cdl; /* which mixes channels, and so has no table */
    without_saturation.saturation = 1;
    for (size_t i = 0; i < CODES; i++) {
        vs_bands grey = vs_bands_grey((double)i / VS_PICTURE_FULL);
        vs_bands out = vs_cdl_apply(&without_saturation, grey);
        for (size_t band = 0; band < VS_BAND_COUNT; band++) {
            sop[CODES * band + i] = (float)out.v[band];
        }
    }
}

/* Sum of squares of hazed - clear over `count` pixels of a row, the hazed ones through a CDL. */
static double row_error(const uint16_t *p, const uint16_t *q, size_t count, const float *sop,
                        float saturation) {
    float sum = 0;
    for (size_t x = 0; x < count; x++, p += 3, q += 3) {
        float c[3] = {sop[q[0]], sop[CODES + q[1]], sop[2 * CODES + q[2]]};
        float luma =
            (float)VS_LUMA_RED * c[0] + (float)VS_LUMA_GREEN * c[1] + (float)VS_LUMA_BLUE * c[2];
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            float out = luma + saturation * (c[band] - luma);
            out = out < 0 ? 0 : out > 1 ? 1 : out;
            float off = out - (float)p[band] * (1.0f / VS_PICTURE_FULL);
            sum += off * off;
        }
    }
    return (double)sum;
}

/* Root mean square of hazed - clear in code values where the frames overlap, the shift taken out
 * and the hazed one through a CDL. */
static vs_status frame_error(const vs_picture *clear, const vs_picture *hazed, const vs_pair *pair,
                             const vs_cdl *cdl, double *error) {
    float *sop = malloc(VS_BAND_COUNT * CODES * sizeof *sop);
    if (!sop) {
        return VS_ERR_MEMORY;
    }
    fill_codes(cdl, sop);
    size_t left = pair->shift_x < 0 ? (size_t)-pair->shift_x : 0;
    size_t right = pair->shift_x > 0 ? (size_t)pair->shift_x : 0;
    size_t wide = clear->width - left - right, rows = 0;
    double sum = 0;
    for (size_t y = 0; y < clear->height; y++) {
        const uint16_t *q = partner(hazed, pair, left, y);
        if (q) {
            sum += row_error(vs_picture_at(clear, left, y), q, wide, sop, (float)cdl->saturation);
            rows++;
        }
    }
    free(sop);
    *error = sqrt(sum / (3.0 * (double)(wide * rows)));
    return VS_OK;
}

static vs_bands signal_of(const uint16_t *pixel) {
    vs_bands signal;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        signal.v[band] = (double)pixel[band] / VS_PICTURE_FULL;
    }
    return signal;
}

/* One pixel out of each of SAMPLE_SIDE x SAMPLE_SIDE cells, at a place that repeats in no pattern.
 */
static size_t take_samples(const vs_picture *clear, const vs_picture *hazed, const vs_pair *pair,
                           vs_cdl_sample *sample) {
    size_t count = 0;
    uint32_t random = 1;
    for (size_t cell = 0; cell < SAMPLE_SIDE * SAMPLE_SIDE; cell++) {
        random = random * 1664525u + 1013904223u; /* Numerical Recipes' quick generator */
        size_t column = cell % SAMPLE_SIDE, row = cell / SAMPLE_SIDE;
        double along = (double)column + (random >> 16 & 0xff) / 256.0;
        double down = (double)row + (random >> 24) / 256.0;
        size_t x = (size_t)(along * (double)clear->width / (double)SAMPLE_SIDE);
        size_t y = (size_t)(down * (double)clear->height / (double)SAMPLE_SIDE);
        const uint16_t *q = partner(hazed, pair, x, y);
        if (q) {
            sample[count].from = signal_of(q);
            sample[count++].to = signal_of(vs_picture_at(clear, x, y));
        }
    }
    return count;
}

/* A share of a CDL: 1 all of it, 0 the identity. */
static vs_cdl weakened(const vs_cdl *cdl, double share) {
    vs_cdl weak;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        weak.slope.v[band] = pow(cdl->slope.v[band], share);
        weak.offset.v[band] = share * cdl->offset.v[band];
        weak.power.v[band] = pow(cdl->power.v[band], share);
    }
    weak.saturation = pow(cdl->saturation, share);
    return weak;
}

/* Measures the fitted CDL over the whole frames, and weakens it until it helps, or to nothing. */
static vs_status settle_cdl(const vs_picture *clear, const vs_picture *hazed, const vs_cdl *fitted,
                            vs_pair *pair) {
    vs_cdl nothing = vs_cdl_identity();
    vs_status status = frame_error(clear, hazed, pair, &nothing, &pair->error_before);
    for (double share = 1; status == VS_OK && share > 0.05; share *= 0.5) {
        pair->cdl = weakened(fitted, share);
        status = frame_error(clear, hazed, pair, &pair->cdl, &pair->error_after);
        if (pair->error_after < pair->error_before) {
            pair->held_back = share < 1;
            return status;
        }
    }
    pair->held_back = pair->error_before > 0;
    pair->cdl = nothing;
    pair->error_after = pair->error_before;
    return status;
}

static vs_status find_cdl(const vs_picture *clear, const vs_picture *hazed, vs_pair *pair) {
    vs_cdl_sample *sample = malloc(SAMPLE_SIDE * SAMPLE_SIDE * sizeof *sample);
    if (!sample) {
        return VS_ERR_MEMORY;
    }
    vs_cdl_goal goal = {.tolerance = CDL_TOLERANCE, .colour_least = COLOUR_LEAST};
    vs_cdl fitted;
    size_t count = take_samples(clear, hazed, pair, sample);
    vs_status status = vs_cdl_fit(sample, count, &goal, &fitted, NULL);
    free(sample);
    return status == VS_OK ? settle_cdl(clear, hazed, &fitted, pair) : status;
}

/* ---- the map ---- */

static const double more_haze[VS_BAND_COUNT] = {1, 0.55, 0.1}; /* orange: our choice */
static const double less_haze[VS_BAND_COUNT] = {0.2, 0.55, 1}; /* blue: our choice */

static void paint(const vs_picture *hazed, double off, size_t x, size_t y, uint16_t *out) {
    double grey = MAP_GREY * vs_bands_luminance(signal_of(vs_picture_at(hazed, x, y)));
    double strength = fabs(off) > VS_PAIR_EXPLAINED_STOPS ? fmin(1, fabs(off) / MAP_FULL_STOPS) : 0;
    const double *tint = off > 0 ? more_haze : less_haze;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double value = grey + strength * (tint[band] - grey);
        out[band] = (uint16_t)lrint(VS_PICTURE_FULL * fmin(1, fmax(0, value)));
    }
}

static vs_status draw_map(const blocks *b, const vs_picture *hazed, const vs_pair *pair,
                          vs_picture *map) {
    vs_status status = vs_picture_init(map, hazed->width, hazed->height, 8);
    for (size_t y = 0; status == VS_OK && y < map->height; y++) {
        size_t row = y / b->side < b->rows ? y / b->side : b->rows - 1;
        for (size_t x = 0; x < map->width; x++) {
            size_t column = x / b->side < b->columns ? x / b->side : b->columns - 1;
            double off = block_off(b, row * b->columns + column, &pair->depth);
            paint(hazed, isnan(off) ? 0 : off, x, y, vs_picture_at(map, x, y));
        }
    }
    return status;
}

/* ---- all of it ---- */

static vs_status measure(blocks *b, const vs_picture *clear, const vs_picture *hazed,
                         const float *linear, vs_pair *pair, vs_faults *clear_faults,
                         vs_faults *hazed_faults) {
    double *work = malloc(b->count * sizeof *work);
    if (!work) {
        return VS_ERR_MEMORY;
    }
    average(b, clear, hazed, pair, linear);
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

vs_status vs_pair_compare(const vs_picture *clear, const vs_picture *hazed, const vs_curve *curve,
                          vs_pair *pair, vs_picture *map, vs_faults *clear_faults,
                          vs_faults *hazed_faults) {
    memset(pair, 0, sizeof *pair);
    if (map) {
        memset(map, 0, sizeof *map);
    }
    if (clear->width != hazed->width || clear->height != hazed->height) {
        vs_faults_add(hazed_faults, "",
                      "must be as large as the clear frame, %zu x %zu pixels "
                      "(got %zu x %zu)",
                      clear->width, clear->height, hazed->width, hazed->height);
        return VS_ERR_INPUT;
    }
    vs_pair_find_shift(clear, hazed, &pair->shift_x, &pair->shift_y);
    blocks b;
    vs_status status = blocks_init(&b, clear);
    float *linear = linear_table(curve);
    if (status != VS_OK || !linear) {
        status = VS_ERR_MEMORY;
        goto cleanup;
    }
    status = measure(&b, clear, hazed, linear, pair, clear_faults, hazed_faults);
    if (status == VS_OK) {
        status = find_cdl(clear, hazed, pair);
    }
    if (status == VS_OK && map) {
        status = draw_map(&b, hazed, pair, map);
    }
cleanup:
    blocks_free(&b);
    free(linear);
    return status;
}
