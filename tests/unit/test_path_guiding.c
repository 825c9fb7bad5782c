/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Samples of random walks against their stated densities. For directions drawn with a density p the
 * mean of f/p is the integral of f over the sphere, whatever p: 4 pi for 1, 0 for a component, 4
 * pi/3 for its square. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "light/walks/path_guiding.h"
#include "room.h"

#define DRAWS 200000

static void lights_are_drawn_by_their_shares(void **state) {
    (void)state;
    const double weight[] = {3, 0, 1e-9, 12, 0.5};
    const size_t count = sizeof weight / sizeof weight[0];
    vs_light_selection b = {.sum = 0, .over_zero = 0};
    size_t drawn, times[5] = {0};
    double sum = 0, worst = 0;
    for (size_t i = 0; i < count; i++) {
        vs_light_selection_add(&b, i, weight[i]);
    }
    vs_random random = vs_random_make(11, 1);
    for (size_t n = 0; n < DRAWS; n++) {
        CHECK_TRUE(vs_light_selection_draw(&b, count, &random, &drawn) && drawn < count);
        times[drawn]++;
    }
    for (size_t i = 0; i < count; i++) {
        double share = vs_light_selection_probability(&b, i);
        double error = sqrt(share * (1 - share) / DRAWS); /* binomial */
        sum += share;
        CHECK_TRUE((share > 0) == (weight[i] > 0));
        CHECK_NEAR((double)times[i] / DRAWS, share, 0, 4 * error);
        worst = fmax(worst, fabs((double)times[i] / DRAWS - share) / fmax(error, 1e-12));
    }
    CHECK_NEAR(sum, 1, 1e-14, 0);
    printf("measured: %d draws among lights: off from their shares by at most %.1f errors\n", DRAWS,
           worst);
}

static void without_weights_nothing_is_drawn(void **state) {
    (void)state;
    vs_light_selection b = {.sum = 0, .over_zero = 0};
    vs_random random = vs_random_make(11, 2);
    size_t drawn;
    CHECK_TRUE(!vs_light_selection_draw(&b, 0, &random, &drawn));
    vs_light_selection_add(&b, 0, 0);
    vs_light_selection_add(&b, 1, 0);
    CHECK_TRUE(!vs_light_selection_draw(&b, 2, &random, &drawn));
    CHECK_NEAR(vs_light_selection_probability(&b, 1), 0, 0, 0);
}

/* A direction towards a lamp, or uniform over the sphere, as in a walk. */
static vs_vec3 draw(const vs_path_guide *g, vs_random *random) {
    const vs_vec3 up = {0, 0, 1};
    if (vs_random_uniform(random) < g->share) {
        return vs_path_guide_draw(g, random);
    }
    double cosine = 1 - 2 * vs_random_uniform(random);
    return vs_vec3_tilted(up, cosine, 2 * VS_PI * vs_random_uniform(random));
}

static void directions_have_the_density_told(void **state) {
    (void)state;
    const vs_vec3 low = {0, 0, 0}, high = {6, 4, 3}, p = {2, 1.5, 1.2};
    const vs_vec3 a = {5, 3, 2.8}, b = {2, 1.5, 2.9}, c = {0.5, 0.5, 1}, aim = {3, 2, 0};
    room_model room;
    room_make(&room, low, high, 0.3, 0.6);
    vs_emitter light[] = {room_lamp(&room, a, 100), room_panel(&room, c, aim, 1, 1, 900),
                          room_spot(&room, b, aim, 3000, 20, 40)};
    const vs_emitter *const each[] = {&light[0], &light[1], &light[2]};
    vs_path_guide g;
    vs_path_guide_make(&g, each, 3, p, 0.3);
    CHECK_TRUE(g.share > 0 && g.share < 1);
    CHECK_NEAR(vs_light_selection_probability(&g.lamp, 1), 0, 0, 0); /* panels are hit by chance */
    vs_random random = vs_random_make(11, 3);
    const double want[] = {4 * VS_PI, 0, 4 * VS_PI / 3};
    double sum[3] = {0}, square[3] = {0}, worst = 0;
    for (size_t n = 0; n < DRAWS; n++) {
        vs_vec3 way = draw(&g, &random);
        double per_sr = vs_path_guide_mixed_per_sr(&g, way, 1 / (4 * VS_PI));
        CHECK_NEAR(vs_vec3_length(way), 1, 1e-12, 0);
        for (int i = 0; i < 3; i++) {
            double value = pow(way.x, i) / per_sr;
            sum[i] += value;
            square[i] += value * value;
        }
    }
    for (int i = 0; i < 3; i++) {
        double mean = sum[i] / DRAWS;
        double error = sqrt((square[i] / DRAWS - mean * mean) / DRAWS);
        CHECK_NEAR(mean, want[i], 0, 4 * error);
        worst = fmax(worst, fabs(mean - want[i]) / error);
    }
    printf(
        "measured: %d directions about lamps: moments of the sphere off by at most %.1f errors\n",
        DRAWS, worst);
    vs_haze_free(&room.haze);
}

static void in_clear_air_nothing_is_guided(void **state) {
    (void)state;
    const vs_vec3 low = {0, 0, 0}, high = {6, 4, 3}, p = {2, 1.5, 1.2}, at = {5, 3, 2.8};
    room_model room;
    room_make(&room, low, high, 0, 0.6);
    vs_emitter lamp = room_lamp(&room, at, 100);
    const vs_emitter *const each[] = {&lamp};
    vs_path_guide g;
    vs_path_guide_make(&g, each, 1, p, 0);
    CHECK_NEAR(g.share, 0, 0, 0);
    CHECK_NEAR(vs_path_guide_mixed_per_sr(&g, at, 0.25), 0.25, 0, 0);
    vs_haze_free(&room.haze);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lights_are_drawn_by_their_shares),
        cmocka_unit_test(without_weights_nothing_is_drawn),
        cmocka_unit_test(directions_have_the_density_told),
        cmocka_unit_test(in_clear_air_nothing_is_guided),
    };
    return RUN_TESTS(tests);
}
