/* SPDX-License-Identifier: GPL-3.0-or-later */
/* shot/reading: all readings of a scene: which model fits, the hazer's actual output, the next
 * top-up; a card lit by a lamp. Closed forms for one well-mixed room. */
#include "check.h"
#include "day.h"
#include "meter.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "parts.h"
#include "veilstop/shot/reading.h"

#define READINGS 8

static const vs_reading_ask let_them_decide = {VS_NONE, VS_READ_ALONE};

/* Losses of the day's hall: air 0.5, deposition 0.3 per hour, settling 3e-5 m/s over its height,
 * evaporation of half-life 1 h. */
#define FLOOR_PER_S (3e-5 / DAY_HEIGHT_M + 0.69314718055994531 / 3600)
#define LOSS_PER_S  (0.8 / 3600 + FLOOR_PER_S)
#define HALL_M3     (8 * DAY_WIDTH_M * DAY_HEIGHT_M)
/* 60 ml/h x 1.04 g/ml x 0.35 x 0.9, per volume, times 5 m2/g: rise of extinction [1/m/s] */
#define GAIN (60.0 / 3600 * 1.04 * 0.35 * 0.9 * DAY_M2_PER_G / HALL_M3)

/* A meter so fine that prior knowledge does not matter. */
#define FINE_STOPS 1e-4

static vs_scene_reading fine_reading(double at_s, double distance_m, double lit_from_m, double k) {
    vs_scene_reading reading = meter_reading(at_s, distance_m, lit_from_m, k);
    reading.uncertainty_stops = FINE_STOPS;
    return reading;
}

static void hand_in(day_set *s, const vs_scene_reading *reading, size_t count) {
    s->scene.reading = reading;
    s->scene.reading_count = count;
}

/* A day of one shot in the hall, and its plan. */
static void plan_one_shot(day_set *s, double extinction_per_m, double minutes, vs_dwell *plan) {
    day_init(s);
    day_add_shot(s, 0, extinction_per_m, minutes);
    CHECK_OK(vs_dwell_plan(&s->scene, &s->haze, NULL, NULL, plan));
}

static void read_all(day_set *s, const vs_scene_reading *reading, size_t count, vs_readings *out) {
    hand_in(s, reading, count);
    CHECK_OK(vs_readings_init(&s->scene, &s->haze, let_them_decide, out));
}

/* dk/dt = output GAIN - loss k through the plan's runs and bursts, exactly, to a time. */
static double played(const vs_dwell *plan, double output, double loss, double at_s) {
    double k = 0, now_s = 0;
    for (size_t i = 0; i < plan->event_count; i++) {
        const vs_dwell_event *e = &plan->event[i];
        if ((e->act != VS_DWELL_RUN && e->act != VS_DWELL_BURST) || e->at_s >= at_s) {
            continue;
        }
        double end_s = fmin(at_s, e->at_s + e->length_s), level = output * GAIN / loss;
        k *= exp(-loss * (e->at_s - now_s));
        k = level + (k - level) * exp(-loss * (end_s - e->at_s));
        now_s = end_s;
    }
    return k * exp(-loss * (at_s - now_s));
}

static void a_played_plan_tells_output_and_loss(void **state) {
    (void)state;
    day_set s;
    vs_dwell plan;
    plan_one_shot(&s, 0.05, 90, &plan);
    vs_scene_reading reading[READINGS];
    for (size_t i = 0; i < READINGS; i++) {
        double at_s = 400 + 700 * (double)(READINGS - 1 - i); /* the file need not be in order */
        double k = played(&plan, 0.7, FLOOR_PER_S + 1.4 / 3600, at_s);
        CHECK_TRUE(k > 0);
        reading[i] = fine_reading(at_s, 12, 1, k);
    }
    vs_readings out;
    read_all(&s, reading, READINGS, &out);
    CHECK_TRUE(out.planned && out.as == VS_READ_PLAN);
    CHECK_NEAR(out.output_ratio, 0.7, 1e-4, 0);
    CHECK_NEAR(out.room[0].loss_per_s, FLOOR_PER_S + 1.4 / 3600, 1e-4, 0);
    CHECK_NEAR(out.room[0].planned_loss_per_s, LOSS_PER_S, 1e-10, 0);
    CHECK_NEAR(out.room[0].floor_loss_per_s, FLOOR_PER_S, 1e-10, 0);
    CHECK_NEAR(out.room[0].last_per_m, out.reading[0].extinction_per_m, 1e-4, 0);
    for (size_t i = 0; i < READINGS; i++) {
        CHECK_NEAR(out.planned_per_m[i], played(&plan, 1, LOSS_PER_S, reading[i].at_s), 1e-6, 1e-9);
    }
    CHECK_TRUE(out.output_ratio_sd > 0 && out.room[0].loss_sd_per_s > 0);
    vs_readings_free(&out);
    vs_readings_free(&out);
    vs_dwell_free(&plan);
}

static void a_decay_is_told_from_a_plan(void **state) {
    (void)state;
    day_set s;
    vs_dwell plan;
    plan_one_shot(&s, 0.05, 90, &plan);
    double from_s = plan.shot[0].start_s, loss = 2.2 / 3600;
    double first = 0.8 * played(&plan, 1, loss, from_s);
    vs_scene_reading reading[5];
    for (size_t i = 0; i < 5; i++) { /* the bursts of the plan were left out */
        double later_s = 500 * (double)i;
        reading[i] = fine_reading(from_s + later_s, 14, 0, first * exp(-loss * later_s));
    }
    vs_readings out;
    read_all(&s, reading, 5, &out);
    CHECK_TRUE(out.as == VS_READ_DECAY);
    CHECK_NEAR(out.room[0].loss_per_s, loss, 1e-5, 0);
    CHECK_NEAR(out.output_ratio, 0.8, 1e-4, 0);
    vs_readings_free(&out);
    vs_reading_ask as_plan = {VS_NONE, VS_READ_PLAN};
    CHECK_OK(vs_readings_init(&s.scene, &s.haze, as_plan, &out));
    CHECK_TRUE(out.as == VS_READ_PLAN && out.chi_square > 1);
    vs_readings_free(&out);
    vs_dwell_free(&plan);
}

/* One reading at a shot's start: the output alone, with the scene's losses. */
static void one_reading_tells_the_output(void **state) {
    (void)state;
    day_set s;
    vs_dwell plan;
    plan_one_shot(&s, 0.05, 30, &plan);
    double at_s = plan.shot[0].start_s;
    vs_scene_reading reading = fine_reading(at_s, 12, 0, 1.3 * played(&plan, 1, LOSS_PER_S, at_s));
    vs_readings out;
    read_all(&s, &reading, 1, &out);
    CHECK_TRUE(out.as == VS_READ_PLAN);
    CHECK_NEAR(out.output_ratio, 1.3, 1e-2, 0); /* or partly another loss */
    CHECK_TRUE(out.output_ratio_sd / out.output_ratio >=
               out.reading[0].sd_per_m / out.reading[0].extinction_per_m);
    CHECK_TRUE(out.output_low > 0 && out.output_low < 1.3 && out.output_high > 1.3);
    CHECK_NAN(out.room[0].loss_per_s);
    vs_readings_free(&out);
    vs_dwell_free(&plan);
}

static void the_next_top_up(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    day_add_shot(&s, 0, 0.05, 600);
    const double loss = 1.6 / 3600, high = 0.052, at_s[] = {1800, 2700, 3600};
    vs_scene_reading reading[3];
    for (size_t i = 0; i < 3; i++) {
        reading[i] = fine_reading(at_s[i], 12, 0, high * exp(loss * (3600 - at_s[i])));
    }
    vs_readings out;
    vs_reading_ask decay = {0, VS_READ_DECAY};
    hand_in(&s, reading, 3);
    CHECK_OK(vs_readings_init(&s.scene, &s.haze, decay, &out));
    CHECK_TRUE(out.top_up.shot == 0 && out.top_up.room == 0);
    CHECK_NEAR(out.top_up.at_s, 3600 + log(high / 0.045) / loss, 1e-6, 0);
    /* back to 0.05 from 0.045 against the loss: the exact run of a well-mixed room */
    double level = out.output_ratio * GAIN / loss;
    CHECK_NEAR(out.top_up.run_s, log((level - 0.045) / (level - 0.05)) / loss, 1e-5, 0);
    vs_readings_free(&out);
    for (size_t i = 0; i < 3; i++) { /* already too thin: at once, from the present density */
        reading[i] = fine_reading(at_s[i], 12, 0, 0.03 * exp(loss * (3600 - at_s[i])));
    }
    CHECK_OK(vs_readings_init(&s.scene, &s.haze, decay, &out));
    CHECK_NEAR(out.top_up.at_s, 3600, 1e-9, 0);
    level = out.output_ratio * GAIN / loss;
    CHECK_NEAR(out.top_up.run_s, log((level - 0.03) / (level - 0.05)) / loss, 1e-5, 0);
    vs_readings_free(&out);
}

static void what_top_ups_cannot_do(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    day_add_room(&s, 5, 0.5);
    day_add_opening(&s, 0, 1, 80);
    day_add_shot(&s, 1, 0.02, 60); /* in the next room: the hazer stands in the hall */
    vs_scene_reading reading = meter_reading(3600, 10, 0, 0.02);
    reading.room = 1;
    vs_readings out;
    read_all(&s, &reading, 1, &out);
    CHECK_TRUE(out.top_up.room == 1);
    CHECK_NAN(out.top_up.run_s);
    vs_readings_free(&out);
    day_init(&s);
    day_add_shot(&s, 0, 5, 60); /* thicker than the hazer can hold */
    reading = meter_reading(3600, 3, 0, 0.3);
    read_all(&s, &reading, 1, &out);
    CHECK_TRUE(isinf(out.top_up.run_s));
    vs_readings_free(&out);
    s.scene.hazer.room = VS_NONE; /* no hazer, and so no plan, and no top-up */
    CHECK_OK(vs_readings_init(&s.scene, &s.haze, let_them_decide, &out));
    CHECK_TRUE(!out.planned && out.as == VS_READ_ALONE);
    CHECK_NAN(out.output_ratio);
    CHECK_NAN(out.planned_per_m[0]);
    vs_readings_free(&out);
}

/* ASTM E741: two points, loss = ln(k1/k2)/(t2 - t1); its worked decay, read: 890 to 440 over a
 * floor of 420 in 8 h, is 0.39 per h. Concentration over the floor stands for extinction here. */
static void two_readings_are_the_logarithm(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    s.scene.fluid.half_life_s = INFINITY;
    s.scene.hazer.room = VS_NONE;
    vs_scene_reading reading[2] = {fine_reading(0, 20, 0, 0.0470),
                                   fine_reading(28800, 20, 0, 0.002)};
    vs_readings out;
    read_all(&s, reading, 2, &out);
    CHECK_TRUE(out.as == VS_READ_DECAY);
    CHECK_PRINTED(out.room[0].loss_per_s * 3600, 0.39, 0.01);
    CHECK_NEAR(out.room[0].loss_per_s, log(23.5) / 28800, 1e-3, 0);
    vs_readings_free(&out);
}

/* n readings at one time: independent ones are 1/sqrt(n) as uncertain; those that share a clear
 * reading keep its error (JCGM 100:2008, 5.2). */
static void readings_at_one_time_are_pooled(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    vs_scene_reading reading[4];
    vs_readings out;
    for (size_t i = 0; i < 4; i++) {
        reading[i] = meter_reading(600 + 5 * (double)i, 7, 0, 0.05);
        reading[i].clear_white += 1e-6 * (double)i; /* a clear reading of its own */
    }
    read_all(&s, reading, 4, &out);
    CHECK_TRUE(out.pool_count == 1 && out.pool[0].count == 4);
    CHECK_NEAR(out.pool[0].extinction_per_m, 0.05, 1e-6, 0);
    CHECK_NEAR(out.pool[0].sd_per_m, out.reading[0].sd_per_m / 2, 1e-6, 0);
    CHECK_NEAR(out.room[0].last_sd_per_m, out.pool[0].sd_per_m, 1e-12, 0);
    vs_readings_free(&out);
    for (size_t i = 0; i < 4; i++) {
        reading[i].clear_white = reading[0].clear_white;
    }
    CHECK_OK(vs_readings_init(&s.scene, &s.haze, let_them_decide, &out));
    double variance = out.reading[0].clear_variance + out.reading[0].hazed_variance / 4;
    CHECK_NEAR(out.pool[0].sd_per_m, sqrt(variance) / 7, 1e-9, 0);
    vs_readings_free(&out);
}

/* Uncertain by over half: no instruction to run the hazer; with more readings there is one. */
static void nothing_is_ordered_on_a_guess(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    day_add_shot(&s, 0, 0.02, 60);
    vs_scene_reading reading[16];
    for (size_t i = 0; i < 16; i++) {
        reading[i] = meter_reading(1800, 4, 0, 0.02);
        reading[i].clear_white += 1e-6 * (double)i;
    }
    vs_readings out;
    read_all(&s, reading, 1, &out);
    CHECK_TRUE(out.top_up.room == 0 && out.top_up.share > VS_READING_PLENTY);
    CHECK_NAN(out.top_up.run_s);
    CHECK_NAN(out.top_up.at_s);
    CHECK_TRUE(!(out.reading[0].best_distance_m > 8 * (1 + 1e-9)));
    vs_readings_free(&out);
    read_all(&s, reading, 16, &out);
    CHECK_TRUE(out.top_up.share <= VS_READING_PLENTY && out.top_up.run_s > 0);
    vs_readings_free(&out);
}

static void a_bad_reading_is_named(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    day_add_shot(&s, 0, 0.05, 30);
    vs_scene_reading reading[2] = {meter_reading(60, 8, 0, 0.03), meter_reading(90, 8, 0, 0.03)};
    reading[1].hazed_white = 300;
    vs_readings out;
    hand_in(&s, reading, 2);
    CHECK_STATUS(vs_readings_init(&s.scene, &s.haze, let_them_decide, &out), VS_ERR_UNREACHABLE);
    CHECK_TRUE(out.culprit == 1 && out.reading == NULL);
}

static void rates_make_up_a_loss(void **state) {
    (void)state;
    vs_scene_room room = {.air_change_per_s = 2e-4, .deposition_per_s = 1e-4};
    double air, deposition;
    bool exact;
    vs_room_loss_to_rates(&room, 3e-4, 9e-4, &air, &deposition, &exact);
    CHECK_TRUE(exact);
    CHECK_NEAR(air, 5e-4, 1e-12, 0);
    CHECK_NEAR(deposition, 1e-4, 1e-12, 0);
    vs_room_loss_to_rates(&room, 3e-4, 3.4e-4, &air, &deposition, &exact);
    CHECK_TRUE(exact);
    CHECK_NEAR(air, 0, 0, 1e-18);
    CHECK_NEAR(deposition, 4e-5, 1e-10, 0);
    vs_room_loss_to_rates(&room, 3e-4, 2e-4, &air, &deposition, &exact);
    CHECK_TRUE(!exact && air == 0 && deposition == 0);
}

/* With a single lamp and black walls, its light is dimmed over its own path and the card's over the
 * camera's, as with lit_from_m. */
static void a_lamp_lights_the_card(void **state) {
    (void)state;
    day_set s;
    day_init(&s);
    vs_light lamp = {.name = "key",
                     .kind = VS_LIGHT_LAMP,
                     .dimmer = 1,
                     .strength = VS_STRENGTH_CANDELA,
                     .value = 500,
                     .at_m = {3.5, 3.2, 2}};
    s.scene.light = &lamp;
    s.scene.light_count = 1;
    s.scene.indirect = VS_INDIRECT_NONE;
    s.scene.fluid.half_life_s = INFINITY;
    s.scene.fluid.g = 0.7;
    vs_camera *camera = &s.camera[0];
    *camera = parts_camera(camera->curve.kind);
    camera->at_m = (vs_vec3){0.5, 1, 1.5};
    camera->aim_m = (vs_vec3){7.5, 2, 1.5};
    double distance_m = 6;
    vs_vec3 axis = vs_vec3_unit(vs_vec3_sub(camera->aim_m, camera->at_m));
    vs_vec3 card_m = vs_vec3_along(camera->at_m, axis, distance_m);
    double lamp_m = vs_vec3_length(vs_vec3_sub(lamp.at_m, card_m));
    vs_scene_reading reading = meter_reading(0, distance_m, lamp_m, 0.07);
    reading.camera = 0;
    reading.lit_by = 0;
    reading.lit_from_m = 0;
    vs_reading out, plain;
    CHECK_OK(vs_reading_by_lamp(&s.scene, &reading, &out));
    CHECK_NEAR(out.extinction_per_m, 0.07, 1e-4, 0);
    CHECK_NEAR(out.path_m, distance_m + lamp_m, 1e-3, 0);
    reading.lit_from_m = lamp_m;
    CHECK_OK(vs_reading_of(&reading, NULL, INFINITY, &plain));
    CHECK_NEAR(out.sd_per_m, plain.sd_per_m, 1e-3, 0);
    /* A net before the camera dims the card alike with haze and without. */
    const vs_scene_blocker net = {.name = "net",
                                  .at_m = {1, 1, 1.5},
                                  .aim_m = {3, 1, 1.5},
                                  .width_m = 1,
                                  .height_m = 1,
                                  .transmittance = 0.5};
    s.scene.blocker = &net;
    s.scene.blocker_count = 1;
    CHECK_OK(vs_reading_by_lamp(&s.scene, &reading, &out));
    CHECK_NEAR(out.extinction_per_m, 0.07, 1e-4, 0);
    s.scene.blocker_count = 0;
    reading.distance_m = 30; /* behind the wall */
    CHECK_STATUS(vs_reading_by_lamp(&s.scene, &reading, &out), VS_ERR_INPUT);
    CHECK_NAN(out.extinction_per_m);
    reading.distance_m = distance_m;
    lamp.at_m = (vs_vec3){7.9, 2, 1.5}; /* behind the card */
    CHECK_STATUS(vs_reading_by_lamp(&s.scene, &reading, &out), VS_ERR_INPUT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_played_plan_tells_output_and_loss),
        cmocka_unit_test(a_decay_is_told_from_a_plan),
        cmocka_unit_test(one_reading_tells_the_output),
        cmocka_unit_test(the_next_top_up),
        cmocka_unit_test(what_top_ups_cannot_do),
        cmocka_unit_test(two_readings_are_the_logarithm),
        cmocka_unit_test(readings_at_one_time_are_pooled),
        cmocka_unit_test(nothing_is_ordered_on_a_guess),
        cmocka_unit_test(a_bad_reading_is_named),
        cmocka_unit_test(rates_make_up_a_loss),
        cmocka_unit_test(a_lamp_lights_the_card),
    };
    return RUN_TESTS(tests);
}
