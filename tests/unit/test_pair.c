/* SPDX-License-Identifier: GPL-3.0-or-later */
/* picture/pair: generated frames with known haze, noise of 8 bits, moved objects, a shifted camera.
 */
#include "check.h"
#include "sets.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "veilstop/picture/pair.h"

#define WIDTH  320
#define HEIGHT 200

static vs_pair compare(const vs_picture *clear, const vs_picture *hazed, const vs_curve *curve) {
    vs_pair pair;
    vs_faults a = {0}, b = {0};
    CHECK_OK(vs_pair_compare(clear, hazed, curve, &pair, NULL, NULL, &a, &b));
    CHECK_TRUE(!vs_faults_any(&a) && !vs_faults_any(&b));
    return pair;
}

/* Root mean square of code values where the frames overlap, of hazed - clear, as it is or through a
 * CDL implemented here; the hazed frame is shifted right and down by `shift`. */
static double rms(const vs_picture *clear, const vs_picture *hazed, int shift, const vs_cdl *cdl) {
    double sum = 0;
    size_t pixels = 0;
    for (long i = 0; i < (long)(clear->width * clear->height); i++) {
        long width = (long)clear->width, x = i % width + shift, y = i / width + shift;
        if (x < 0 || y < 0 || x >= width || y >= (long)clear->height) {
            continue;
        }
        const uint16_t *p = clear->sample + 3 * i, *q = hazed->sample + 3 * (y * width + x);
        double c[3], luma = 0;
        const double weight[3] = {0.2126, 0.7152, 0.0722};
        for (int b = 0; b < 3; b++) {
            c[b] = q[b] / 65535.0;
            if (cdl) {
                double v = fmin(1, fmax(0, c[b] * cdl->slope.v[b] + cdl->offset.v[b]));
                c[b] = pow(v, cdl->power.v[b]);
            }
            luma += weight[b] * c[b];
        }
        for (int b = 0; b < 3; b++) {
            double out = cdl ? fmin(1, fmax(0, luma + cdl->saturation * (c[b] - luma))) : c[b];
            sum += pow(out - p[b] / 65535.0, 2);
        }
        pixels++;
    }
    return sqrt(sum / (3.0 * (double)pixels));
}

static void known_haze_is_found_again(void **state) {
    (void)state;
    const vs_curve_kind kind[] = {VS_CURVE_SRGB, VS_CURVE_BT709, VS_CURVE_ACESCCT, VS_CURVE_LINEAR,
                                  VS_CURVE_HLG};
    random_stream r = {41};
    double worst_t = 0, worst_v = 0, least_explained = 1;
    for (int round = 0; round < 15; round++) {
        vs_curve curve = {.kind = kind[round % 5]};
        vs_depth haze = random_haze(&r);
        light set = make_set(WIDTH, HEIGHT, &r);
        int shift = round % 3 == 0 ? 0 : round % 2 ? 1 : -3;
        vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r);
        move_people(&set, 0.02, &r);
        vs_picture hazed = shoot(&set, &curve, &haze, &haze, shift, 1, round % 4 ? 8 : 16, &r);
        vs_pair pair = compare(&clear, &hazed, &curve);
        CHECK_TRUE(pair.shift_x == shift && pair.shift_y == shift);
        for (int b = 0; b < VS_BAND_COUNT; b++) {
            double t_off = fabs(pair.depth.transmission.v[b] - haze.transmission.v[b]);
            double v_off = fabs(pair.depth.veil.v[b] - haze.veil.v[b]);
            CHECK_TRUE(t_off <= 0.02);
            CHECK_TRUE(v_off <= 0.01);
            worst_t = fmax(worst_t, t_off);
            worst_v = fmax(worst_v, v_off);
        }
        least_explained = fmin(least_explained, pair.explained);
        CHECK_TRUE(pair.explained > 0.9);
        CHECK_TRUE(pair.error_after < pair.error_before);
        CHECK_NEAR(pair.error_before, rms(&clear, &hazed, shift, NULL), 1e-5, 0);
        CHECK_NEAR(pair.error_after, rms(&clear, &hazed, shift, &pair.cdl), 1e-4, 0);
        vs_picture_free(&clear);
        vs_picture_free(&hazed);
        free(set.x);
    }
    printf(
        "measured: 15 pairs (8 bits, noise of one code, 2 %% moved, shifted up to 3 px): T within "
        "%.4f, V within %.4f, explained from %.3f\n",
        worst_t, worst_v, least_explained);
}

static void depth_is_no_obstacle_to_the_cdl(void **state) {
    (void)state;
    random_stream r = {52};
    double best = 1, worst = 0, least_explained = 1;
    for (int round = 0; round < 24; round++) {
        vs_curve curve = {.kind = round % 2 ? VS_CURVE_SRGB : VS_CURVE_ACESCCT};
        vs_depth near = no_haze, far = random_haze(&r);
        if (round % 3 == 0) {
            near = random_haze(&r);
        }
        light set = make_set(WIDTH / 2, HEIGHT / 2, &r);
        vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r);
        vs_picture hazed = shoot(&set, &curve, &near, &far, 0, 1, 8, &r);
        vs_pair pair = compare(&clear, &hazed, &curve);
        CHECK_TRUE(pair.error_after < pair.error_before);
        CHECK_NEAR(pair.error_after, rms(&clear, &hazed, 0, &pair.cdl), 1e-4, 0);
        double ratio = pair.error_after / pair.error_before;
        best = fmin(best, ratio);
        worst = fmax(worst, ratio);
        least_explained = fmin(least_explained, pair.explained);
        vs_picture_free(&clear);
        vs_picture_free(&hazed);
        free(set.x);
    }
    CHECK_TRUE(least_explained < 0.7); /* it says when one depth does not fit */
    printf("measured: 24 pairs with depth: error after over before %.2f to %.2f; explained from "
           "%.2f\n",
           best, worst, least_explained);
}

/* Frames that have nothing in common, and noise against itself a pixel further on, where the shift
 * along one axis has to be found first. */
static void never_further_off_than_doing_nothing(void **state) {
    (void)state;
    random_stream r = {63};
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    for (int round = 0; round < 6; round++) {
        vs_picture clear, hazed;
        CHECK_OK(vs_picture_init(&clear, 120, 90, 8));
        CHECK_OK(vs_picture_init(&hazed, 120, 90, 8));
        for (size_t i = 0; i < 3 * 120 * 90; i++) {
            clear.sample[i] = (uint16_t)random_index(&r, 60000);
        }
        for (size_t i = 3; i < 3 * 120 * 90; i++) {
            hazed.sample[i] = (uint16_t)(round < 3 ? 0.9 * clear.sample[i - 3] + 2000
                                                   : random_uniform(&r, 0, 65535));
        }
        vs_pair pair = compare(&clear, &hazed, &curve);
        CHECK_TRUE(pair.error_after <= pair.error_before);
        CHECK_TRUE(pair.match == (round < 3 ? VS_PAIR_SAME : VS_PAIR_OTHER_SET));
        CHECK_TRUE(round >= 3 || (pair.shift_x == 1 && pair.shift_y == 0));
        CHECK_TRUE(round < 3 ||
                   rms(&clear, &hazed, 0, &pair.cdl) <= rms(&clear, &hazed, 0, NULL) * (1 + 1e-6));
        vs_picture_free(&clear);
        vs_picture_free(&hazed);
    }
}

static void equal_frames_need_nothing(void **state) {
    (void)state;
    random_stream r = {74};
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    light set = make_set(WIDTH / 2, HEIGHT / 2, &r);
    vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 0, 8, &r);
    vs_pair pair = compare(&clear, &clear, &curve);
    CHECK_TRUE(pair.match == VS_PAIR_IDENTICAL);
    CHECK_NEAR(pair.error_before, 0, 0, 1e-7);
    CHECK_TRUE(pair.error_after <= pair.error_before);
    for (int b = 0; b < VS_BAND_COUNT; b++) {
        CHECK_NEAR(pair.depth.transmission.v[b], 1, 0, 1e-6);
        CHECK_NEAR(pair.depth.veil.v[b], 0, 0, 1e-6);
    }
    CHECK_NEAR(pair.explained, 1, 0, 0);
    vs_picture_free(&clear);
    free(set.x);
}

static void the_map_shows_where_not(void **state) {
    (void)state;
    random_stream r = {85};
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    light set = make_set(WIDTH, HEIGHT, &r);
    vs_depth haze = {vs_bands_grey(0.8), vs_bands_grey(0.03)},
             more = {vs_bands_grey(0.5), vs_bands_grey(0.1)};
    vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 0, 8, &r);
    vs_picture hazed = shoot(&set, &curve, &haze, &haze, 0, 0, 8, &r);
    vs_picture deep = shoot(&set, &curve, &more, &more, 0, 0, 8, &r);
    for (size_t y = 0; y < 40; y++) { /* a corner far down a passage */
        memcpy(vs_picture_at(&hazed, 0, y), vs_picture_at(&deep, 0, y), 60 * 3 * sizeof(uint16_t));
    }
    vs_pair pair;
    vs_picture map;
    vs_faults a = {0}, b = {0};
    CHECK_OK(vs_pair_compare(&clear, &hazed, &curve, &pair, &map, NULL, &a, &b));
    CHECK_TRUE(map.width == WIDTH && map.height == HEIGHT);
    size_t coloured_in = 0, coloured_out = 0;
    for (size_t y = 0; y < HEIGHT; y++) {
        for (size_t x = 0; x < WIDTH; x++) {
            const uint16_t *p = vs_picture_at(&map, x, y);
            bool coloured = abs((int)p[0] - (int)p[2]) > 2000;
            coloured_in += coloured && x < 60 && y < 40;
            coloured_out += coloured && !(x < 60 && y < 40);
        }
    }
    CHECK_TRUE(coloured_in > 60 * 40 / 2);
    CHECK_TRUE(coloured_out < WIDTH * HEIGHT / 50);
    vs_picture_free(&map);
    vs_picture_free(&clear);
    vs_picture_free(&hazed);
    vs_picture_free(&deep);
    free(set.x);
}

static void refused(const vs_picture *clear, const vs_picture *hazed, const char *of_clear,
                    const char *of_hazed) {
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    vs_pair pair;
    vs_picture map;
    vs_faults a = {0}, b = {0};
    CHECK_STATUS(vs_pair_compare(clear, hazed, &curve, &pair, &map, NULL, &a, &b), VS_ERR_INPUT);
    CHECK_TRUE(map.sample == NULL);
    CHECK_TRUE(a.count == (of_clear != NULL) && b.count == (of_hazed != NULL));
    CHECK_TRUE(!of_clear || strstr(a.item[0].text, of_clear));
    CHECK_TRUE(!of_hazed || strstr(b.item[0].text, of_hazed));
}

static void bad_pairs_are_refused_in_one_line(void **state) {
    (void)state;
    random_stream r = {96};
    vs_curve curve = {.kind = VS_CURVE_SRGB};
    light set = make_set(WIDTH, HEIGHT, &r), half = make_set(WIDTH / 2, HEIGHT, &r);
    vs_depth haze = {vs_bands_grey(0.7), vs_bands_grey(0.05)};
    vs_picture clear = shoot(&set, &curve, &no_haze, &no_haze, 0, 1, 8, &r);
    vs_picture hazed = shoot(&set, &curve, &haze, &haze, 0, 1, 8, &r);
    vs_picture narrow = shoot(&half, &curve, &haze, &haze, 0, 1, 8, &r);
    vs_picture black, white, tiny;
    CHECK_OK(vs_picture_init(&black, WIDTH, HEIGHT, 8));
    CHECK_OK(vs_picture_init(&white, WIDTH, HEIGHT, 8));
    CHECK_OK(vs_picture_init(&tiny, 2, 2, 8));
    memset(white.sample, 0xff, sizeof(uint16_t) * 3 * WIDTH * HEIGHT);
    refused(&clear, &narrow, NULL, "320 x 200 pixels (got 160 x 200)");
    refused(&black, &hazed, "one tone all over", NULL);
    refused(&clear, &black, NULL, "one tone all over");
    refused(&clear, &white, "usable parts", "usable parts");
    refused(&tiny, &tiny, "usable parts", "usable parts");
    refused(&hazed, &clear, NULL, "frames swapped");
    vs_picture_free(&clear);
    vs_picture_free(&hazed);
    vs_picture_free(&narrow);
    vs_picture_free(&black);
    vs_picture_free(&white);
    vs_picture_free(&tiny);
    free(set.x);
    free(half.x);
}

/* CPU time [s] of comparing frames of random tones, each repeated over squares of `times` pixels. */
static double seconds_for(size_t times) {
    random_stream r = {7};
    vs_picture clear, hazed;
    const vs_curve curve = {.kind = VS_CURVE_SRGB};
    uint16_t tone[4][8][3];
    for (size_t i = 0; i < 4 * 8 * 3; i++) {
        (&tone[0][0][0])[i] = (uint16_t)random_uniform(&r, 2000, 60000);
    }
    CHECK_OK(vs_picture_init(&clear, 8 * times, 4 * times, 16));
    CHECK_OK(vs_picture_init(&hazed, 8 * times, 4 * times, 16));
    for (size_t i = 0; i < clear.width * clear.height * 3; i++) {
        size_t pixel = i / 3, x = pixel % clear.width / times, y = pixel / clear.width / times;
        clear.sample[i] = tone[y][x][i % 3];
        hazed.sample[i] = (uint16_t)(0.6 * tone[y][x][i % 3] + 8000);
    }
    clock_t start = clock();
    vs_pair pair = compare(&clear, &hazed, &curve);
    double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
    CHECK_TRUE(pair.error_after < 0.001 && pair.error_before > 0.05);
    vs_picture_free(&clear);
    vs_picture_free(&hazed);
    return seconds;
}

/* Frames with fewer pixels than the fit takes patches: none is fitted twice. */
static void small_frames_cost_little(void **state) {
    (void)state;
    double small_s = seconds_for(1), large_s = seconds_for(7);
    printf("measured: 8 x 4 pixels take %.2f of the time of 56 x 28\n", small_s / large_s);
    CHECK_TRUE(small_s < 0.4 * large_s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(known_haze_is_found_again),
        cmocka_unit_test(depth_is_no_obstacle_to_the_cdl),
        cmocka_unit_test(never_further_off_than_doing_nothing),
        cmocka_unit_test(equal_frames_need_nothing),
        cmocka_unit_test(the_map_shows_where_not),
        cmocka_unit_test(bad_pairs_are_refused_in_one_line),
        cmocka_unit_test(small_frames_cost_little),
    };
    return RUN_TESTS(tests);
}
