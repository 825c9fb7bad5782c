/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The steady hold against closed forms of two and three rooms and against the same rooms followed
 * until nothing changes (vs_rooms_advance, which is held against an ODE solver elsewhere). */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/air/rooms_steady.h"

#define MOST 5

typedef struct {
    double volume[MOST], floor[MOST], air[MOST], deposition[MOST], outside[MOST];
    double exchange[MOST * MOST], source[MOST], ratio[MOST];
    vs_rooms rooms;
} set;

static void set_init(set *s, size_t count) {
    memset(s, 0, sizeof *s);
    s->rooms = (vs_rooms){.count = count,
                          .volume_m3 = s->volume,
                          .floor_m2 = s->floor,
                          .air_change_per_s = s->air,
                          .deposition_per_s = s->deposition,
                          .exchange_m3_per_s = s->exchange,
                          .outside_m3_per_s = s->outside};
    for (size_t i = 0; i < count; i++) {
        s->volume[i] = 30 + 10 * (double)i;
        s->floor[i] = 12;
    }
}

static void link(set *s, size_t a, size_t b, double m3_per_s) {
    s->exchange[a * s->rooms.count + b] = s->exchange[b * s->rooms.count + a] = m3_per_s;
}

/* Two rooms: the flow through the door equals the second room's own losses,
 * Q (c1 - c2) = V2 l2 c2 (mass balance, worked by hand). */
static void two_rooms_are_as_on_paper(void **state) {
    (void)state;
    set s;
    set_init(&s, 2);
    s.source[0] = 3;
    s.air[0] = 7e-4;
    s.air[1] = 5e-4;
    link(&s, 0, 1, 0.04);
    CHECK_OK(vs_rooms_steady(&s.rooms, s.source, 0, s.ratio));
    CHECK_NEAR(s.ratio[0], 1, 0, 0);
    CHECK_NEAR(s.ratio[1], 0.04 / (0.04 + 40 * 5e-4), 1e-14, 0);
    CHECK_OK(vs_rooms_steady(&s.rooms, s.source, 1, s.ratio));
    CHECK_NEAR(s.ratio[0], (0.04 + 40 * 5e-4) / 0.04, 1e-14, 0);
    CHECK_NEAR(s.ratio[1], 1, 0, 0);
}

/* A row of rooms without losses fills evenly; one that nothing reaches stays clear. */
static void rooms_that_lose_nothing_come_out_alike(void **state) {
    (void)state;
    set s;
    set_init(&s, 4);
    s.source[0] = 1;
    link(&s, 0, 1, 1e-5);
    link(&s, 1, 2, 3);
    CHECK_OK(vs_rooms_steady(&s.rooms, s.source, 2, s.ratio));
    for (size_t i = 0; i < 3; i++) {
        CHECK_NEAR(s.ratio[i], 1, 1e-14, 0);
    }
    CHECK_NEAR(s.ratio[3], 0, 0, 0);
}

static void what_no_air_reaches_is_refused(void **state) {
    (void)state;
    set s;
    set_init(&s, 3);
    s.source[0] = 1;
    link(&s, 0, 1, 0.1);
    CHECK_STATUS(vs_rooms_steady(&s.rooms, s.source, 2, s.ratio), VS_ERR_UNREACHABLE);
    CHECK_TRUE(isnan(s.ratio[0]) && isnan(s.ratio[2]));
    CHECK_STATUS(vs_rooms_steady(&s.rooms, s.source, 3, s.ratio), VS_ERR_DOMAIN);
    s.air[0] = 1e-4;
    s.source[2] = 1; /* takes in haze indefinitely and loses none */
    CHECK_STATUS(vs_rooms_steady(&s.rooms, s.source, 0, s.ratio), VS_ERR_DOMAIN);
    s.source[2] = NAN;
    CHECK_STATUS(vs_rooms_steady(&s.rooms, s.source, 0, s.ratio), VS_ERR_DOMAIN);
}

static void random_rooms(set *s, random_stream *r) {
    set_init(s, 2 + random_index(r, MOST - 1));
    for (size_t i = 0; i < s->rooms.count; i++) {
        s->volume[i] = random_log_uniform(r, 5, 500);
        s->air[i] = random_log_uniform(r, 1e-4, 5e-3);
        s->deposition[i] = random_uniform(r, 0, 2e-4);
        s->outside[i] = random_index(r, 2) ? random_uniform(r, 0, 0.1) : 0;
        for (size_t k = 0; k < i; k++) {
            double m3_per_s = random_log_uniform(r, 1e-3, 0.5);
            link(s, i, k, k + 1 == i || random_index(r, 2) ? m3_per_s : 0);
        }
    }
    s->rooms.settling_m_per_s = 1e-5;
    s->rooms.evaporation_per_s = random_uniform(r, 0, 4e-4);
    s->rooms.hazer = random_index(r, s->rooms.count);
    s->rooms.mixing_s = 300;
    s->source[s->rooms.hazer] = 1;
}

/* A constant output for so long that every mode has died away. */
static void rooms_followed_for_long_end_there(void **state) {
    (void)state;
    random_stream r = {20261};
    double worst = 0;
    for (int trial = 0; trial < 200; trial++) {
        set s;
        vs_rooms_model model;
        double followed[2 * MOST + 6] = {0};
        random_rooms(&s, &r);
        size_t held = random_index(&r, s.rooms.count);
        CHECK_OK(vs_rooms_model_init(&model, &s.rooms));
        vs_rooms_advance(&model, 0.01, 3e6, followed);
        CHECK_OK(vs_rooms_steady(&s.rooms, s.source, held, s.ratio));
        for (size_t i = 0; i < s.rooms.count; i++) {
            double want = followed[i] / s.volume[i] / (followed[held] / s.volume[held]);
            worst = fmax(worst, fabs(s.ratio[i] / want - 1));
            CHECK_NEAR(s.ratio[i], want, 1e-9, 0);
        }
        vs_rooms_model_free(&model);
    }
    printf("measured: steady ratios of 200 sets of rooms within %.1e of rooms followed\n", worst);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_rooms_are_as_on_paper),
        cmocka_unit_test(rooms_that_lose_nothing_come_out_alike),
        cmocka_unit_test(what_no_air_reaches_is_refused),
        cmocka_unit_test(rooms_followed_for_long_end_there),
    };
    return RUN_TESTS(tests);
}
