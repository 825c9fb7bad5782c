/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shift between two frames by the correlation of their gradients: haze scales a gradient
 * without changing its direction, and anything that moved is one place among thousands. Every shift
 * is tried on thumbnails, then only those near the last one, up to whole frames. */
#include "picture/pair/pair_match.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define LEVEL_MAX  10 /* halvings: more than the largest picture needs */
#define THUMB_SIDE 48 /* [pixels] least shorter side of the thumbnails: our choice */
/* [pixels] their greatest longer side, unless the frame is too narrow */
#define THUMB_LONG   256
#define THUMB_NARROW 4   /* [pixels] nothing is halved below this */
#define NEAR         8   /* [pixels] a bumped tripod: shifts always tried at full size */
#define REFINE       2   /* [pixels] tried around the shift of the level above */
#define REACH_MOST   256 /* [pixels] of a thumbnail */
/* [1] of a side: a shift that keeps the framing; our choice */
#define FAR_SHARE 0.25
/* cells per side; each contributes the steepest of a few places */
#ifndef FUZZING_BUILD_MODE_UNSAFE_FOR_PRODUCTION
#define GRID ((size_t)64)
#else /* a fuzzer's frames are smaller than that */
#define GRID ((size_t)16)
#endif
#define TRIES   9     /* places tried in a cell: our choice */
#define CLEARLY 0.002 /* [1] gain in correlation that confirms a shift: our choice */
/* [1] the same beyond a bumped tripod's, where many are tried: our choice */
#define CLEARLY_FAR 0.05
#define GREEN       1 /* channel compared: most of the luminance, least noise */
/* [1] correlation of thumbnails with one framing; different sets reach 0.25: measured */
#define AGREES 0.35
/* [1] correlation that confirms a wide shift among so many: measured */
#define FOUND        0.6
#define REACH_ZOOM   0.06 /* [1] of a side: shifts tried with each zoom */
#define CLEARLY_ZOOM 0.1  /* [1] gain in correlation that confirms a zoom: measured */
#define OVERLAP      0.25 /* [1] of the thumbnail, least overlap with another framing */

/* One channel of a picture, at some size; `own`: its memory, if owned. */
typedef struct {
    const uint16_t *sample;
    size_t width, height, step; /* step: samples from pixel to pixel */
    uint16_t *own;
} grey;

typedef struct {
    grey level[LEVEL_MAX];
    size_t count;
} pyramid;

static float value(const grey *g, size_t x, size_t y) {
    return (float)g->sample[(y * g->width + x) * g->step];
}

static bool halve(const grey *from, grey *to) {
    const grey half = {.width = from->width / 2, .height = from->height / 2, .step = 1};
    *to = half;
    to->own = malloc(to->width * to->height * sizeof *to->own);
    for (size_t y = 0; to->own && y < to->height; y++) {
        for (size_t x = 0; x < to->width; x++) {
            float sum = value(from, 2 * x, 2 * y) + value(from, 2 * x + 1, 2 * y) +
                        value(from, 2 * x, 2 * y + 1) + value(from, 2 * x + 1, 2 * y + 1);
            to->own[y * to->width + x] = (uint16_t)(sum / 4);
        }
    }
    to->sample = to->own;
    return to->own != NULL;
}

static void pyramid_free(pyramid *p) {
    for (size_t i = 0; i < p->count; i++) {
        free(p->level[i].own);
    }
    p->count = 0;
}

/* Whether a level is a thumbnail: small, or too narrow to be halved. */
static bool small_enough(const grey *g) {
    size_t shorter = g->width < g->height ? g->width : g->height;
    size_t longer = g->width < g->height ? g->height : g->width;
    return (shorter / 2 < THUMB_SIDE && longer <= THUMB_LONG) || shorter / 2 < THUMB_NARROW;
}

static vs_status pyramid_init(pyramid *p, const vs_picture *picture) {
    memset(p, 0, sizeof *p);
    grey whole = {picture->sample + GREEN, picture->width, picture->height, 3, NULL};
    p->level[p->count++] = whole;
    while (p->count < LEVEL_MAX) {
        const grey *last = &p->level[p->count - 1];
        if (small_enough(last)) {
            break;
        }
        if (!halve(last, &p->level[p->count])) {
            pyramid_free(p);
            return VS_ERR_MEMORY;
        }
        p->count++;
    }
    return VS_OK;
}

/* ---- correlation at selected places ---- */

typedef struct {
    long x, y;
    float gx, gy;
} edge;

static bool inside(const grey *g, long x, long y) {
    return x >= 1 && y >= 1 && x < (long)g->width - 1 && y < (long)g->height - 1;
}

static void gradient(const grey *g, long x, long y, float *gx, float *gy) {
    const uint16_t *at = g->sample + ((size_t)y * g->width + (size_t)x) * g->step;
    ptrdiff_t right = (ptrdiff_t)g->step, down = (ptrdiff_t)(g->step * g->width);
    *gx = (float)at[right] - (float)at[-right];
    *gy = (float)at[down] - (float)at[-down];
}

/* The steepest of a few places in a cell. */
static edge steepest(const grey *g, double x0, double y0, double width, double height) {
    edge best = {0};
    float most = -1;
    for (int i = 0; i < TRIES; i++) {
        int column = i % 3, row = i / 3;
        edge e = {.x = (long)(x0 + width * (column + 0.5) / 3),
                  .y = (long)(y0 + height * (row + 0.5) / 3)};
        gradient(g, e.x, e.y, &e.gx, &e.gy);
        float steepness = e.gx * e.gx + e.gy * e.gy;
        if (steepness > most) {
            most = steepness;
            best = e;
        }
    }
    return best;
}

/* The steepest places all over a level; returns their number. edges: GRID x GRID. */
static size_t find_edges(const grey *g, edge *edges) {
    double wide = (double)(g->width - 2) / (double)GRID, high = (double)(g->height - 2) / GRID;
    for (size_t i = 0; i < GRID * GRID; i++) {
        double column = (double)(i % GRID), row = (double)(i / GRID);
        edges[i] = steepest(g, 1 + column * wide, 1 + row * high, wide, high);
    }
    return GRID * GRID;
}

/* Correlation of the edges with the other frame at the shifted places; 0 if too few are inside. */
static double agreement(const grey *b, const edge *e, size_t count, long dx, long dy) {
    double product = 0, first = 0, second = 0;
    size_t used = 0;
    for (size_t i = 0; i < count; i++) {
        float gx, gy;
        if (!inside(b, e[i].x + dx, e[i].y + dy)) {
            continue;
        }
        gradient(b, e[i].x + dx, e[i].y + dy, &gx, &gy);
        product += (double)(e[i].gx * gx + e[i].gy * gy);
        first += (double)(e[i].gx * e[i].gx + e[i].gy * e[i].gy);
        second += (double)(gx * gx + gy * gy);
        used++;
    }
    return (double)used >= OVERLAP * (double)count ? product / sqrt(first * second + 1) : 0;
}

typedef struct {
    long x, y;
    double agreement;
} shift;

/* The best of the shifts within `most` of one. */
static shift best_near(const grey *b, const edge *e, size_t count, shift from, long most_x,
                       long most_y) {
    shift best = from;
    best.agreement = agreement(b, e, count, from.x, from.y);
    for (long y = from.y - most_y; y <= from.y + most_y; y++) {
        for (long x = from.x - most_x; x <= from.x + most_x; x++) {
            double found = agreement(b, e, count, x, y);
            if (found > best.agreement) {
                best = (shift){x, y, found};
            }
        }
    }
    return best;
}

/* A shift in whole pixels, bounded for narrow frames. */
static long bounded(double pixels) {
    return (long)fmin(pixels, REACH_MOST);
}

/* From the thumbnails' best shift down to the whole frames'. */
static shift follow_down(const pyramid *a, const pyramid *b, edge *e) {
    shift best = {0, 0, 0};
    for (size_t k = a->count; k-- > 0;) {
        size_t count = find_edges(&a->level[k], e);
        long most_x = REFINE, most_y = REFINE;
        if (k + 1 == a->count) {
            most_x = bounded(FAR_SHARE * (double)a->level[k].width);
            most_y = bounded(FAR_SHARE * (double)a->level[k].height);
        }
        best = (shift){2 * best.x, 2 * best.y, 0};
        best = best_near(&b->level[k], e, count, best, most_x, most_y);
    }
    return best;
}

static void find_shift(const pyramid *a, const pyramid *b, edge *e, int *dx, int *dy) {
    shift far = follow_down(a, b, e); /* leaves the whole frame's edges in e */
    const shift none = {0, 0, 0};
    shift near = best_near(&b->level[0], e, GRID * GRID, none, NEAR, NEAR);
    double still = agreement(&b->level[0], e, GRID * GRID, 0, 0);
    shift best = {0, 0, still};
    best = near.agreement > still + CLEARLY ? near : best;
    best = far.agreement > best.agreement + CLEARLY_FAR ? far : best;
    *dx = (int)best.x;
    *dy = (int)best.y;
}

/* ---- whether they match ---- */

/* A thumbnail zoomed about its middle, of the same size. False if memory runs out. */
static bool zoom(const grey *from, double by, grey *to) {
    *to = *from;
    to->step = 1;
    to->own = malloc(to->width * to->height * sizeof *to->own);
    to->sample = to->own;
    for (size_t y = 0; to->own && y < to->height; y++) {
        for (size_t x = 0; x < to->width; x++) {
            double px = ((double)x - 0.5 * (double)to->width) / by + 0.5 * (double)from->width;
            double py = ((double)y - 0.5 * (double)to->height) / by + 0.5 * (double)from->height;
            px = fmin(fmax(px, 0), (double)from->width - 1.001);
            py = fmin(fmax(py, 0), (double)from->height - 1.001);
            size_t left = (size_t)px, top = (size_t)py;
            double u = px - (double)left, v = py - (double)top;
            double upper =
                (1 - u) * (double)value(from, left, top) + u * (double)value(from, left + 1, top);
            double lower = (1 - u) * (double)value(from, left, top + 1) +
                           u * (double)value(from, left + 1, top + 1);
            to->own[y * to->width + x] = (uint16_t)((1 - v) * upper + v * lower);
        }
    }
    return to->own != NULL;
}

/* The best correlation from zooming one thumbnail and shifting it by up to `most` of its sides. */
static vs_status best_framing(const grey *a, const grey *b, edge *e, double most, double *best) {
    static const double zooms[] = {0.5,  0.56, 0.63, 0.7,  0.78, 0.88, 0.94,
                                   1.06, 1.13, 1.27, 1.42, 1.6,  1.8,  2};
    size_t count = find_edges(a, e);
    *best = 0;
    for (size_t i = 0; i < sizeof zooms / sizeof zooms[0]; i++) {
        grey zoomed;
        if (!zoom(b, zooms[i], &zoomed)) {
            return VS_ERR_MEMORY;
        }
        const shift none = {0, 0, 0};
        shift found = best_near(&zoomed, e, count, none, bounded(most * (double)b->width),
                                bounded(most * (double)b->height));
        *best = fmax(*best, found.agreement);
        free(zoomed.own);
    }
    return VS_OK;
}

static vs_status judge(const pyramid *a, const pyramid *b, edge *e, int dx, int dy,
                       vs_pair_match *match) {
    size_t top = a->count - 1;
    const grey *thumb = &a->level[top];
    size_t count = find_edges(thumb, e);
    double scale = exp2((double)top), zoomed;
    shift there = {lround(dx / scale), lround(dy / scale), 0};
    there = best_near(&b->level[top], e, count, there, 1, 1);
    vs_status status = best_framing(thumb, &b->level[top], e, REACH_ZOOM, &zoomed);
    *match = zoomed > fmax(there.agreement + CLEARLY_ZOOM, AGREES) ? VS_PAIR_OTHER_FRAMING
                                                                   : VS_PAIR_SAME;
    if (status != VS_OK || *match != VS_PAIR_SAME || there.agreement >= AGREES) {
        return status;
    }
    const shift none = {0, 0, 0};
    long wide = bounded((double)thumb->width), high = bounded((double)thumb->height);
    shift far = best_near(&b->level[top], e, count, none, wide, high);
    *match = far.agreement >= FOUND ? VS_PAIR_OTHER_FRAMING : VS_PAIR_OTHER_SET;
    return VS_OK;
}

vs_status vs_pair_find_match(const vs_picture *a, const vs_picture *b, int *dx, int *dy,
                             vs_pair_match *match) {
    *dx = *dy = 0;
    *match = VS_PAIR_SAME;
    if (a->width < 4 || a->height < 4) {
        return VS_OK;
    }
    pyramid of_a, of_b = {.count = 0};
    edge *e = calloc(GRID * GRID, sizeof *e);
    vs_status status = e ? pyramid_init(&of_a, a) : VS_ERR_MEMORY;
    if (status != VS_OK) {
        free(e);
        return status;
    }
    status = pyramid_init(&of_b, b);
    if (status == VS_OK) {
        find_shift(&of_a, &of_b, e, dx, dy);
        status = judge(&of_a, &of_b, e, *dx, *dy, match);
    }
    pyramid_free(&of_a);
    pyramid_free(&of_b);
    free(e);
    return status;
}
