/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The uncertainty of answers: sampling, sums, and figures with closed forms. */
#include "check.h"
#include "hall.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/shot/dwell.h"
#include "veilstop/shot/spread.h"

#define SAMPLES 64

static void factors_fill_their_ranges(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 1);
    const vs_scene_uncertain uncertain[] = {{"/a", 0.3}, {"/b", 0.05}};
    double factor[2 * 255], sum[2] = {0, 0};
    CHECK_STATUS(vs_spread_factors(&h.scene, 255, factor), VS_ERR_DOMAIN);
    h.scene.uncertain = uncertain;
    h.scene.uncertain_count = 2;
    CHECK_OK(vs_spread_factors(&h.scene, 255, factor));
    for (size_t i = 0; i < 2 * 255; i++) {
        double half = uncertain[i % 2].half_width;
        CHECK_TRUE(fabs(factor[i] - 1) < half);
        sum[i % 2] += factor[i];
    }
    CHECK_NEAR(sum[0] / 255, 1, 1e-12, 0); /* Sobol's first 2^m - 1 points are uniform */
    CHECK_NEAR(sum[1] / 255, 1, 1e-12, 0);
}

/* Quantiles of a linear function of one input, and of a constant; a figure that is missing in some
 * samples. */
static void sums_are_those_of_the_samples(void **state) {
    (void)state;
    double factor[2 * 101], value[3 * 101];
    for (int i = 0; i < 101; i++) {
        factor[2 * i] = i;
        factor[2 * i + 1] = (i * 37) % 101;
        value[3 * i] = 5 - 0.01 * (i * 37 % 101);
        value[3 * i + 1] = 7;
        value[3 * i + 2] = i < 50 ? (double)NAN : i * i;
    }
    vs_spread_figure f[3] = {0};
    CHECK_OK(vs_spread_sum_up(factor, 2, value, 101, f, 3));
    CHECK_NEAR(f[0].p10, 4.1, 1e-12, 0);
    CHECK_NEAR(f[0].p50, 4.5, 1e-12, 0);
    CHECK_NEAR(f[0].p90, 4.9, 1e-12, 0);
    CHECK_TRUE(f[0].main_input == 1 && f[0].known == 101);
    CHECK_NEAR(f[0].rank_correlation, -1, 1e-12, 0);
    CHECK_TRUE(f[1].main_input == VS_NONE && f[1].p10 == 7 && f[1].p90 == 7);
    CHECK_TRUE(f[2].main_input == 0 && f[2].known == 51);
    CHECK_NEAR(f[2].p50, 75 * 75, 1e-12, 0);
}

/* Output of the hazer up and down by 40 %: without mixing time the run's length is -ln(1 - L m/S)/L
 * for each sample, whatever the sampling; the visibility depends on nothing. */
static void the_run_spreads_as_its_closed_form(void **state) {
    (void)state;
    static double factor[SAMPLES], value[SAMPLES * 16];
    hall_set h;
    hall_init(&h, 1);
    const vs_scene_uncertain uncertain = {"/hazer/fluid_ml_per_h", 0.4};
    h.scene.uncertain = &uncertain;
    h.scene.uncertain_count = 1;
    h.room.mixing_s = 0;
    hall_add_shot(&h, 0);
    hall_add_point(&h, 9, 5);
    hall_add_want(&h, VS_WANT_SIGHT, 60);
    size_t count = vs_spread_figures(&h.scene, NULL);
    CHECK_TRUE(count == 9 && count <= 16);
    vs_spread_figure figure[16];
    vs_spread_figures(&h.scene, figure);
    double k = 0.03, rate_ml_per_s = h.scene.hazer.fluid_ml_per_s;
    vs_choice planned = {.planned_per_m = k};
    const vs_choices choices = {&planned, 1, VS_NONE};
    const vs_spread_plan plan = {&choices, NULL, NULL, NULL};
    CHECK_OK(vs_spread_factors(&h.scene, SAMPLES, factor));
    double loss_per_s = 0.8 / VS_S_PER_H + log(2) / 3600, mass_g = k / 4 * 20 * 6 * 4;
    for (size_t i = 0; i < SAMPLES; i++) {
        h.scene.hazer.fluid_ml_per_s = rate_ml_per_s * factor[i];
        CHECK_OK(vs_spread_measure(&h.scene, &plan, figure, count, value + i * count));
        double output_g_per_s = vs_dwell_output_g_per_s(&h.scene);
        double run_s = -log1p(-loss_per_s * mass_g / output_g_per_s) / loss_per_s;
        for (size_t f = 0; f < count; f++) {
            if (figure[f].kind == VS_SPREAD_RUN) {
                CHECK_NEAR(value[i * count + f], run_s / 60, 1e-6, 0);
            }
        }
    }
    CHECK_OK(vs_spread_sum_up(factor, 1, value, SAMPLES, figure, count));
    for (size_t f = 0; f < count; f++) {
        if (figure[f].kind == VS_SPREAD_RUN) {
            CHECK_TRUE(figure[f].main_input == 0);
            CHECK_NEAR(figure[f].rank_correlation, -1, 1e-12, 0);
            printf("measured: a run of %.2f to %.2f min (10 and 90 %%) for an output known to 40 "
                   "%%\n",
                   figure[f].p10, figure[f].p90);
        } else if (figure[f].kind == VS_SPREAD_WANT || figure[f].kind == VS_SPREAD_HIGHEST) {
            CHECK_TRUE(figure[f].main_input == VS_NONE && figure[f].known == SAMPLES);
            CHECK_NEAR(figure[f].p10, figure[f].p90, 0, 0);
        }
    }
}

/* A density that no day can reach has no times, but everything else. */
static void what_cannot_be_is_left_open(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 1);
    h.scene.hazer.room = VS_NONE;
    hall_add_shot(&h, 0);
    hall_add_point(&h, 9, 5);
    hall_add_point(&h, 18, 5);
    hall_add_want(&h, VS_WANT_SEPARATION, 2);
    vs_spread_figure figure[8];
    double value[8];
    vs_choice planned = {.planned_per_m = 0.03};
    const vs_choices choices = {&planned, 1, VS_NONE};
    const vs_spread_plan plan = {&choices, NULL, NULL, NULL};
    size_t count = vs_spread_figures(&h.scene, figure);
    CHECK_TRUE(count == 4); /* no hazer, no times */
    CHECK_OK(vs_spread_measure(&h.scene, &plan, figure, count, value));
    CHECK_NAN(value[0]);
    CHECK_TRUE(isfinite(value[3]) && strcmp(vs_spread_word(figure[3].kind), "want") == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(factors_fill_their_ranges),
        cmocka_unit_test(sums_are_those_of_the_samples),
        cmocka_unit_test(the_run_spreads_as_its_closed_form),
        cmocka_unit_test(what_cannot_be_is_left_open),
    };
    return RUN_TESTS(tests);
}
