/* SPDX-License-Identifier: GPL-3.0-or-later */
/* picture/pair: the grades it finds, whether frames match, and the map of transmission, on
 * generated frames with known answers. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sets.h"
#include "veilstop/picture/pair.h"

#define WIDTH  400
#define HEIGHT 260

typedef struct {
    vs_picture clear, hazed;
} frames;

static void free_frames(frames *f) {
    vs_picture_free(&f->clear);
    vs_picture_free(&f->hazed);
}

static vs_pair compare(const frames *f, const vs_curve *curve, vs_picture *matte) {
    vs_pair pair;
    vs_faults a = {0}, b = {0};
    CHECK_OK(vs_pair_compare(&f->clear, &f->hazed, curve, &pair, NULL, matte, &a, &b));
    return pair;
}

/* Root mean square over whole frames of hazed - clear, the hazed one through a matrix, implemented
 * independently here. */
static double matrix_rms(const frames *f, const vs_pair_matrix *matrix) {
    double sum = 0;
    size_t pixels = f->clear.width * f->clear.height;
    for (size_t i = 0; i < pixels; i++) {
        const uint16_t *p = f->clear.sample + 3 * i, *q = f->hazed.sample + 3 * i;
        for (int b = 0; b < 3; b++) {
            const double *m = matrix->m[b];
            double out = (m[0] * q[0] + m[1] * q[1] + m[2] * q[2]) / 65535 + m[3];
            sum += pow(fmin(1, fmax(0, out)) - p[b] / 65535.0, 2);
        }
    }
    return sqrt(sum / (3.0 * (double)pixels));
}

static double gain_db(double before, double after) {
    return 20 * log10(before / after);
}

/* Twenty pairs of all kinds: one depth, depth that varies, noise, moved people. */
static void no_grade_does_harm(void **state) {
    (void)state;
    const vs_curve_kind kind[] = {VS_CURVE_SRGB, VS_CURVE_BT709, VS_CURVE_ACESCCT, VS_CURVE_HLG};
    random_stream r = {301};
    double cdl = 0, matrix = 0, least_cdl = INFINITY, least_matrix = INFINITY;
    for (int i = 0; i < 20; i++) {
        vs_curve curve = {.kind = kind[i % 4]};
        light set = make_set(WIDTH, HEIGHT, &r);
        vs_depth near = i % 2 ? no_haze : random_haze(&r), far = i % 2 ? random_haze(&r) : near;
        double noise = random_uniform(&r, 0.3, 4);
        frames f = {.clear = shoot(&set, &curve, &no_haze, &no_haze, 0, noise, 8, &r)};
        move_people(&set, 0.01, &r);
        f.hazed = shoot(&set, &curve, &near, &far, 0, noise, 8, &r);
        vs_pair pair = compare(&f, &curve, NULL);
        CHECK_TRUE(pair.match == VS_PAIR_SAME);
        CHECK_NEAR(pair.error_matrix, matrix_rms(&f, &pair.matrix), 1e-4, 0);
        CHECK_TRUE(pair.error_after <= pair.error_before);
        CHECK_TRUE(pair.error_matrix <= pair.error_before);
        double of_cdl = gain_db(pair.error_before, pair.error_after);
        double of_matrix = gain_db(pair.error_before, pair.error_matrix);
        cdl += of_cdl / 20;
        matrix += of_matrix / 20;
        least_cdl = fmin(least_cdl, of_cdl);
        least_matrix = fmin(least_matrix, of_matrix);
        free_frames(&f);
        free(set.x);
    }
    CHECK_TRUE(cdl > 4 && matrix > 4);
    printf("measured: 20 pairs: CDL nearer by %.1f dB in the mean, %.1f at least; matrix by %.1f, "
           "%.1f at least\n",
           cdl, least_cdl, matrix, least_matrix);
}

/* Noise of 0.03 of full scale must not look like a lack of colour; nor must grey frames. */
static void noise_takes_no_colour_away(void **state) {
    (void)state;
    random_stream r = {302};
    const vs_curve curve = {.kind = VS_CURVE_SRGB};
    const vs_depth haze = {vs_bands_grey(0.6), vs_bands_grey(0.08)};
    double least = 1, most = 1;
    for (int i = 0; i < 8; i++) {
        light set = make_set(WIDTH, HEIGHT, &r);
        for (size_t k = 0; i % 2 && k < set.width * set.height; k++) {
            set.x[k] = vs_bands_grey(set.x[k].v[1]);
        }
        frames f = {shoot(&set, &curve, &no_haze, &no_haze, 0, 7.65, 8, &r),
                    shoot(&set, &curve, &haze, &haze, 0, 7.65, 8, &r)};
        vs_pair pair = compare(&f, &curve, NULL);
        least = fmin(least, pair.cdl.saturation);
        most = fmax(most, pair.cdl.saturation);
        for (int b = 0; b < VS_BAND_COUNT; b++) { /* a row takes mostly from its own channel */
            CHECK_TRUE(pair.matrix.m[b][b] >
                       0.7 * (pair.matrix.m[b][0] + pair.matrix.m[b][1] + pair.matrix.m[b][2]));
        }
        free_frames(&f);
        free(set.x);
    }
    CHECK_TRUE(least > 0.85 && most < 1.15);
    printf("measured: saturation under noise of 0.03: %.2f to %.2f\n", least, most);
}

static void a_moved_camera_is_found(void **state) {
    (void)state;
    random_stream r = {303};
    const vs_curve curve = {.kind = VS_CURVE_BT709};
    const int shift[] = {9, -17, 25, -38, 38};
    for (int i = 0; i < 10; i++) {
        vs_depth haze = random_haze(&r);
        light set = make_set(WIDTH, HEIGHT, &r);
        frames f = {shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r),
                    shoot(&set, &curve, &no_haze, &haze, shift[i % 5], 1, 8, &r)};
        vs_pair pair = compare(&f, &curve, NULL);
        CHECK_TRUE(pair.match == VS_PAIR_SAME);
        CHECK_TRUE(pair.shift_x == shift[i % 5] && pair.shift_y == shift[i % 5]);
        free_frames(&f);
        free(set.x);
    }
}

/* The picture zoomed about its middle: another focal length from the same place. */
static vs_picture zoomed(const vs_picture *from, double by) {
    vs_picture to;
    CHECK_OK(vs_picture_init(&to, from->width, from->height, 8));
    for (size_t y = 0; y < to.height; y++) {
        for (size_t x = 0; x < to.width; x++) {
            double px = ((double)x - 0.5 * (double)to.width) / by + 0.5 * (double)to.width;
            double py = ((double)y - 0.5 * (double)to.height) / by + 0.5 * (double)to.height;
            memcpy(vs_picture_at(&to, x, y), vs_picture_at(from, (size_t)px, (size_t)py),
                   3 * sizeof(uint16_t));
        }
    }
    return to;
}

static void frames_that_do_not_match_are_told_apart(void **state) {
    (void)state;
    random_stream r = {304};
    const vs_curve curve = {.kind = VS_CURVE_SRGB};
    for (int i = 0; i < 8; i++) {
        vs_depth haze = random_haze(&r);
        light set = make_set(WIDTH, HEIGHT, &r), other = make_set(WIDTH, HEIGHT, &r);
        vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r);
        vs_picture hazed = shoot(&set, &curve, &haze, &haze, 0, 1, 8, &r);
        frames same = {clear, clear},
               elsewhere = {clear, shoot(&other, &curve, &haze, &haze, 0, 1, 8, &r)};
        frames framing = {clear, zoomed(&hazed, random_uniform(&r, 1.2, 1.6))};
        CHECK_TRUE(compare(&same, &curve, NULL).match == VS_PAIR_IDENTICAL);
        vs_pair pair = compare(&framing, &curve, NULL);
        CHECK_TRUE(pair.match == VS_PAIR_OTHER_FRAMING);
        CHECK_NEAR(pair.error_after, pair.error_before, 0, 0);
        CHECK_NEAR(pair.cdl.slope.v[1], 1, 0, 0);
        CHECK_TRUE(compare(&elsewhere, &curve, NULL).match == VS_PAIR_OTHER_SET);
        vs_picture_free(&clear);
        vs_picture_free(&hazed);
        vs_picture_free(&elsewhere.hazed);
        vs_picture_free(&framing.hazed);
        free(set.x);
        free(other.x);
    }
}

/* Haze of one source, thicker towards the right: the map must be its transmission, and the light
 * restored by it closer than with any single grade. */
static void the_map_is_the_transmission(void **state) {
    (void)state;
    random_stream r = {305};
    double worst = 0, gain = 0, of_cdl = 0;
    for (int i = 0; i < 10; i++) {
        const vs_curve curve = {.kind = i % 2 ? VS_CURVE_SRGB : VS_CURVE_ACESCCT};
        double t = random_uniform(&r, 0.3, 0.7), source = random_uniform(&r, 0.08, 0.4), sum = 0;
        light set = make_set(WIDTH, HEIGHT, &r);
        frames f = {.clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r)};
        for (size_t k = 0; k < set.width * set.height; k++) {
            double share = ((double)(k % set.width) - MARGIN) / WIDTH, here = pow(t, share);
            set.x[k] =
                vs_bands_add(vs_bands_scale(set.x[k], here), vs_bands_grey(source * (1 - here)));
        }
        f.hazed = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r);
        vs_picture matte;
        vs_pair pair = compare(&f, &curve, &matte);
        CHECK_TRUE(matte.width == WIDTH && matte.height == HEIGHT && matte.bits == 16);
        for (size_t k = 0; k < WIDTH * HEIGHT; k++) {
            CHECK_TRUE(matte.sample[3 * k] == matte.sample[3 * k + 2]);
            sum += pow(matte.sample[3 * k] / 65535.0 - pow(t, (double)(k % WIDTH) / WIDTH), 2);
        }
        worst = fmax(worst, sqrt(sum / (WIDTH * HEIGHT)));
        CHECK_TRUE(pair.error_matte < pair.error_before);
        gain += gain_db(pair.error_before, pair.error_matte) / 10;
        of_cdl += gain_db(pair.error_before, pair.error_after) / 10;
        vs_picture_free(&matte);
        free_frames(&f);
        free(set.x);
    }
    printf("measured: map of transmission: off by %.3f rms at worst; brings the light back %.1f dB "
           "nearer, the CDL %.1f\n",
           worst, gain, of_cdl);
    CHECK_TRUE(worst < 0.02);
    CHECK_TRUE(gain > of_cdl + 4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_grade_does_harm),
        cmocka_unit_test(noise_takes_no_colour_away),
        cmocka_unit_test(a_moved_camera_is_found),
        cmocka_unit_test(frames_that_do_not_match_are_told_apart),
        cmocka_unit_test(the_map_is_the_transmission),
    };
    return RUN_TESTS(tests);
}
