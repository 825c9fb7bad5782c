/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See sets.h. */
#include "sets.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

const vs_depth no_haze = {{{1, 1, 1}}, {{0, 0, 0}}};

static vs_bands *at(const light *l, size_t x, size_t y) {
    return l->x + y * l->width + x;
}

static vs_bands random_colour(random_stream *r) {
    double grey = random_log_uniform(r, 0.004, 0.9);
    vs_bands colour = {{grey * random_uniform(r, 0.6, 1), grey * random_uniform(r, 0.6, 1),
                        grey * random_uniform(r, 0.6, 1)}};
    return colour;
}

static void fill_box(light *l, size_t x0, size_t y0, size_t w, size_t h, vs_bands colour,
                     double fall, random_stream *r) {
    for (size_t y = y0; y < y0 + h && y < l->height; y++) {
        for (size_t x = x0; x < x0 + w && x < l->width; x++) {
            double shade = 1 - fall * (double)(x - x0) / (double)w;
            *at(l, x, y) = vs_bands_scale(colour, shade * random_uniform(r, 0.93, 1));
        }
    }
}

/* Boxes over boxes, shaded and grained: edges, flats and texture, as sets have. */
light make_set(size_t width, size_t height, random_stream *r) {
    light l = {width + 2 * MARGIN, height + 2 * MARGIN, NULL};
    l.x = calloc(l.width * l.height, sizeof *l.x);
    fill_box(&l, 0, 0, l.width, l.height, random_colour(r), 0.7, r);
    for (int i = 0; i < 60; i++) {
        size_t w = l.width / 20 + random_index(r, l.width / 3);
        size_t h = l.height / 20 + random_index(r, l.height / 3);
        fill_box(&l, random_index(r, l.width), random_index(r, l.height), w, h, random_colour(r),
                 random_uniform(r, 0, 0.8), r);
    }
    return l;
}

/* Places that moved: blobs of other colours over 2 % of the frame. */
void move_people(light *l, double share, random_stream *r) {
    size_t side =
        (size_t)sqrt(share * (double)((l->width - 2 * MARGIN) * (l->height - 2 * MARGIN)) / 4);
    for (int i = 0; i < 4; i++) {
        fill_box(l, MARGIN + random_index(r, l->width - 2 * MARGIN - side),
                 MARGIN + random_index(r, l->height - 2 * MARGIN - side), side, side,
                 random_colour(r), 0.2, r);
    }
}

static double normal(random_stream *r) {
    double u = random_uniform(r, 1e-12, 1);
    return sqrt(-2 * log(u)) * cos(2 * 3.14159265358979 * random_uniform(r, 0, 1));
}

/* The frame cut out at a shift, through haze whose transmission may differ along x, with noise of
 * `noise` codes of 8 bits, quantised to `bits`. */
vs_picture shoot(const light *l, const vs_curve *curve, const vs_depth *left, const vs_depth *right,
                 int shift, double noise, int bits, random_stream *r) {
    vs_picture frame;
    CHECK_OK(vs_picture_init(&frame, l->width - 2 * MARGIN, l->height - 2 * MARGIN, bits));
    double levels = bits == 8 ? 255 : 65535;
    for (size_t y = 0; y < frame.height; y++) {
        for (size_t x = 0; x < frame.width; x++) {
            vs_bands clear = *at(l, x + (size_t)(MARGIN - shift), y + (size_t)(MARGIN - shift));
            double share = (double)x / (double)frame.width;
            for (int b = 0; b < VS_BAND_COUNT; b++) {
                double t =
                    pow(left->transmission.v[b], 1 - share) * pow(right->transmission.v[b], share);
                double veil = left->veil.v[b] * (1 - share) + right->veil.v[b] * share;
                double code =
                    vs_curve_encode(curve, clear.v[b] * t + veil) + noise / 255 * normal(r);
                code = round(fmin(1, fmax(0, code)) * levels) / levels;
                vs_picture_at(&frame, x, y)[b] = (uint16_t)lrint(65535 * code);
            }
        }
    }
    return frame;
}

vs_depth random_haze(random_stream *r) {
    vs_depth depth;
    double t = random_uniform(r, 0.4, 0.95), source = random_uniform(r, 0.05, 0.4);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        depth.transmission.v[b] = pow(t, 1 + 0.1 * b); /* blue goes first */
        depth.veil.v[b] = source * (1 - depth.transmission.v[b]);
    }
    return depth;
}
