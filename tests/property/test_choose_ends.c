/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Choices and beams at the ends of their ranges: black rooms, bright rooms, lamps from nothing to
 * the sun, wants that cannot be met. Checks what must hold for any answer; no outside source but
 * the rules of docs/physics.md for the least haze and for beams. */
#include "check.h"
#include "hall.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"

#define HALLS 300
#define SEED  4711

static vs_vec3 inside(random_stream *r) {
    vs_vec3 p = {random_uniform(r, 2, 18), random_uniform(r, 0.5, 5.5),
                 random_uniform(r, 0.5, 3.5)};
    return p;
}

/* Nothing, or anything from a thousandth of a candle to a searchlight. */
static void draw_hall(hall_set *h, random_stream *r) {
    hall_init(h, random_index(r, 3) ? random_log_uniform(r, 1e-7, 1e5) : 0);
    for (int face = 0; face < VS_FACE_COUNT; face++) {
        h->room.reflectance[face] = random_index(r, 2) ? 0 : 0.9;
    }
    if (random_index(r, 3) == 0) {
        h->scene.hazer.room = VS_NONE;
    }
    size_t lamps = random_index(r, 3);
    for (size_t i = 0; i < lamps; i++) {
        vs_vec3 at_m = inside(r), aim_m = inside(r);
        hall_add_spot(h, at_m, aim_m, random_uniform(r, 3, 30), random_log_uniform(r, 1e-3, 1e7));
    }
    hall_add_shot(h, 0);
    hall_add_point(h, 3, random_log_uniform(r, 1e-4, 1e4));
    hall_add_point(h, 16, random_log_uniform(r, 1e-4, 1e4));
    if (lamps > 0) {
        vs_scene_want *beam = hall_add_want(h, VS_WANT_BEAM, random_log_uniform(r, 0.05, 20));
        beam->light = 0;
        beam->near_m = inside(r);
    }
    if (random_index(r, 2)) {
        hall_add_want(h, VS_WANT_SEPARATION, random_log_uniform(r, 0.001, 8));
    }
    hall_add_want(h, VS_WANT_BLACK, random_log_uniform(r, 0.001, 50))->a = 1;
    hall_add_want(h, VS_WANT_SIGHT, random_log_uniform(r, 5, 1e6));
}

typedef struct {
    size_t none, aside, thin, met;
} counts;

static void check_choice(const vs_choice *c, counts *count) {
    bool any_aside = false;
    CHECK_TRUE(isfinite(c->recommended_per_m) && c->least_per_m >= VS_HELD_LEAST_PER_M);
    CHECK_TRUE(c->recommended_per_m >= c->least_per_m ||
               (c->none_needed && c->recommended_per_m == 0));
    for (size_t i = 0; i < c->want_count; i++) {
        const vs_choice_want *want = &c->want[i];
        any_aside = any_aside || !want->possible;
        CHECK_TRUE(want->possible == (want->why == VS_REACHED));
        CHECK_TRUE(!want->in_conflict || want->possible);
        CHECK_TRUE(!isnan(want->recommended.value));
        if (c->met) {
            CHECK_TRUE(want->recommended.margin > -1e-3);
        }
        if (c->none_needed && want->possible) {
            CHECK_TRUE(want->recommended.met);
        }
    }
    CHECK_TRUE(c->met == (c->agree && !c->too_thin && !any_aside));
    count->none += c->none_needed;
    count->aside += any_aside;
    count->thin += c->too_thin;
    count->met += c->met;
}

static void recommended_haze_can_be_had_and_seen(void **state) {
    (void)state;
    random_stream r = {SEED};
    counts count = {0};
    for (int i = 0; i < HALLS; i++) {
        hall_set h;
        vs_predictor p;
        vs_choices c;
        draw_hall(&h, &r);
        CHECK_OK(vs_predictor_init(&p, &h.scene));
        CHECK_OK(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c));
        check_choice(&c.shot[0], &count);
        vs_choices_free(&c);
        vs_predictor_free(&p);
    }
    CHECK_TRUE(count.none > 0 && count.aside > 5 && count.thin > 0 && count.met > 5);
    printf(
        "measured: of %d halls %zu met, %zu need no haze, %zu with wants set aside, %zu too thin\n",
        HALLS, count.met, count.none, count.aside, count.thin);
}

/* A beam in a black hall (docs/physics.md, "a prediction"): over = log2((background + beam +
 * e)/(background + e)). */
static void a_beam_never_reads_over_the_cameras_range(void **state) {
    (void)state;
    for (double candela = 1e-9; candela < 1e9; candela *= 10) {
        hall_set h;
        vs_predictor p;
        vs_shot_prediction shot;
        hall_init(&h, 0);
        for (int face = 0; face < VS_FACE_COUNT; face++) {
            h.room.reflectance[face] = 0;
        }
        hall_add_spot(&h, (vs_vec3){6, 5, 3.5}, (vs_vec3){9, 1, 0.5}, 12, candela);
        hall_add_shot(&h, 0);
        hall_add_want(&h, VS_WANT_BEAM, 0.5)->near_m = (vs_vec3){7.5, 3, 2};
        hall_give(&h, 0.02);
        CHECK_OK(vs_predictor_init(&p, &h.scene));
        CHECK_OK(vs_predict_shot(&p, 0, NULL, &shot));
        const vs_beam_prediction *beam = &shot.beam[0];
        double e = vs_camera_floor_nits(&h.camera[0]);
        CHECK_NEAR(beam->over_stops, log2((beam->beam_nits + e) / e), 1e-9, 1e-12);
        if (beam->beam_nits < e) {
            CHECK_TRUE(beam->reads == VS_READS_NOT);
            CHECK_TRUE(candela > 1e-7 || isnan(beam->reads_from_m)); /* not even at its lamp */
        } else {
            CHECK_TRUE(beam->reads == VS_READS_STRONG);
        }
        vs_shot_prediction_free(&shot);
        vs_predictor_free(&p);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(recommended_haze_can_be_had_and_seen),
        cmocka_unit_test(a_beam_never_reads_over_the_cameras_range),
    };
    return RUN_TESTS(tests);
}
