/* The shift between two frames by the correlation of their gradients: haze scales a gradient and
 * leaves its direction, and a place that moved is one of thousands. */
#include "picture/pair_shift.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#define SHIFT_MAX 8            /* [pixels] "a few": a bumped tripod, not another framing */
#define GRID      ((size_t)64) /* cells a side; each gives its steepest place of a few tried */
#define TRIES     9            /* places tried in a cell: our choice */
#define CLEARLY   0.002        /* [1] correlation gained before a shift is believed: our choice */
#define GREEN     1            /* channel compared: most of the luminance, least noise */

typedef struct {
    long x, y;
    float gx, gy;
} edge;

static void gradient(const vs_picture *picture, long x, long y, float *gx, float *gy) {
    const uint16_t *at = vs_picture_at(picture, (size_t)x, (size_t)y) + GREEN;
    ptrdiff_t down = 3 * (ptrdiff_t)picture->width;
    *gx = (float)at[3] - (float)at[-3];
    *gy = (float)at[down] - (float)at[-down];
}

/* The steepest of a few places in a cell. */
static edge steepest(const vs_picture *picture, double x0, double y0, double width, double height) {
    edge best = {0};
    float most = -1;
    for (int i = 0; i < TRIES; i++) {
        int column = i % 3, row = i / 3;
        edge e = {.x = (long)(x0 + width * (column + 0.5) / 3),
                  .y = (long)(y0 + height * (row + 0.5) / 3)};
        gradient(picture, e.x, e.y, &e.gx, &e.gy);
        float steepness = e.gx * e.gx + e.gy * e.gy;
        if (steepness > most) {
            most = steepness;
            best = e;
        }
    }
    return best;
}

/* Correlation of the edges with what the other frame has there, once shifted. */
static double agreement(const vs_picture *b, const edge *e, size_t count, int dx, int dy) {
    double product = 0, first = 0, second = 0;
    for (size_t i = 0; i < count; i++) {
        float gx, gy;
        gradient(b, e[i].x + dx, e[i].y + dy, &gx, &gy);
        product += (double)(e[i].gx * gx + e[i].gy * gy);
        first += (double)(e[i].gx * e[i].gx + e[i].gy * e[i].gy);
        second += (double)(gx * gx + gy * gy);
    }
    return product / sqrt(first * second + 1);
}

void vs_pair_find_shift(const vs_picture *a, const vs_picture *b, int *dx, int *dy) {
    *dx = *dy = 0;
    const double margin = SHIFT_MAX + 1;
    double width = (double)a->width - 2 * margin, height = (double)a->height - 2 * margin;
    if (width < 4 || height < 4) {
        return;
    }
    static const size_t count = GRID * GRID;
    double wide = width / (double)GRID, high = height / (double)GRID; /* of a cell */
    edge e[GRID * GRID];
    for (size_t i = 0; i < count; i++) {
        size_t column = i % GRID, row = i / GRID;
        e[i] = steepest(a, margin + (double)column * wide, margin + (double)row * high, wide, high);
    }
    double best = agreement(b, e, count, 0, 0) + CLEARLY;
    for (int y = -SHIFT_MAX; y <= SHIFT_MAX; y++) {
        for (int x = -SHIFT_MAX; x <= SHIFT_MAX; x++) {
            double found = agreement(b, e, count, x, y);
            if (found > best) {
                best = found;
                *dx = x;
                *dy = y;
            }
        }
    }
}
