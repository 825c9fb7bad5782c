/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A lamp carried round its aim: each place predicted again from a scene written by hand; the
 * direction in which haze scatters; which lights can be turned. */
#include "check.h"
#include "hall.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/shot/turn.h"

static void make(hall_set *h) {
    hall_init(h, 0.2);
    hall_add_spot(h, (vs_vec3){11, 4.5, 3}, (vs_vec3){9, 3, 1.2}, 14, 600);
    hall_add_lamp(h, (vs_vec3){16, 1, 3}, 30);
    hall_add_shot(h, 0);
    hall_add_point(h, 12, 4);
    hall_add_point(h, 17, 1);
}

static void sweep(const hall_set *h, double k, vs_turn *turn) {
    vs_predictor p;
    CHECK_OK(vs_predictor_init(&p, &h->scene));
    CHECK_OK(vs_turn_sweep(&p, 0, 0, &k, turn));
    vs_predictor_free(&p);
}

/* The ninth place, a quarter turn on, written by hand: (dx, dy) becomes (-dy, dx). */
static void a_quarter_turn_is_as_set_by_hand(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    sweep(&h, 0.03, &turn);
    hall_set by_hand;
    make(&by_hand);
    by_hand.light[0].at_m = (vs_vec3){7.5, 5, 3};
    vs_scene_want *want = hall_add_want(&by_hand, VS_WANT_BEAM, 1);
    want->near_m = (vs_vec3){8.25, 4, 2.1};
    const vs_turn_place *place = &turn.place[VS_TURN_PLACES / 4];
    CHECK_NEAR(place->turned_rad, VS_PI / 2, 1e-12, 0);
    CHECK_NEAR(place->at_m.x, 7.5, 1e-12, 0);
    CHECK_NEAR(place->at_m.y, 5, 1e-12, 0);
    vs_predictor p;
    vs_shot_prediction prediction;
    double k = 0.03;
    CHECK_OK(vs_predictor_init(&p, &by_hand.scene));
    CHECK_OK(vs_predict_shot(&p, 0, &k, &prediction));
    CHECK_NEAR(place->over_stops, prediction.beam[0].over_stops, 1e-6, 0);
    const vs_point_prediction *point = &prediction.point[place->point];
    CHECK_NEAR(place->veil_nits, vs_bands_luminance(point->veil_by_light[0]), 1e-6, 0);
    CHECK_TRUE(place->lift_percent > 0 && place->cost_stops > 0);
    CHECK_NEAR(place->net_stops, place->over_stops - place->cost_stops, 1e-12, 1e-12);
    vs_shot_prediction_free(&prediction);
    vs_predictor_free(&p);
}

/* Droplets scatter forward: a beam towards the camera reads most, one from beside the camera least.
 * The hall is symmetric about the camera's axis, so the sweep is too. */
static void back_light_reads_and_front_light_does_not(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    h.scene.light_count = 1;
    h.shot[0].light_count = 1;
    h.light[0].at_m = (vs_vec3){11, 3, 3};
    sweep(&h, 0.02, &turn);
    double back = turn.place[0].over_stops, front = turn.place[VS_TURN_PLACES / 2].over_stops;
    CHECK_NEAR(turn.place[0].from_camera_rad, VS_PI, 1e-9, 0);
    CHECK_NEAR(turn.place[VS_TURN_PLACES / 2].from_camera_rad, 0, 0, 1e-9);
    CHECK_TRUE(back > 2 * front);
    for (size_t i = 1; i < VS_TURN_PLACES; i++) {
        CHECK_NEAR(turn.place[i].over_stops, turn.place[VS_TURN_PLACES - i].over_stops, 1e-3, 1e-6);
    }
    CHECK_TRUE(turn.worst != VS_NONE && turn.place[turn.worst].reads != VS_READS_STRONG);
    CHECK_TRUE(turn.place[turn.best].net_stops >= turn.place[turn.worst].net_stops);
    printf("measured: a beam at 0.02 /m: %.2f stops against the camera, %.2f from its side\n", back,
           front);
}

/* A place beyond the wall is not possible for a lamp inside; wants take precedence over stops. */
static void places_that_are_none_and_wants_are_minded(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    h.light[0].at_m.y = 5.9;
    hall_add_want(&h, VS_WANT_BLACK, 0.9)->a = 1;
    sweep(&h, 0.03, &turn);
    bool outside = false;
    size_t met = 0;
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        const vs_turn_place *place = &turn.place[i];
        outside = outside || !place->stands;
        CHECK_TRUE(place->stands == (place->room == 0));
        met += place->stands && place->meets_wants;
    }
    CHECK_TRUE(outside && turn.place[turn.best].stands && turn.place[turn.best].meets_wants);
    CHECK_TRUE(met > 0 && met < VS_TURN_PLACES);
    CHECK_TRUE(turn.worst == VS_NONE || (turn.place[turn.worst].meets_wants &&
                                         turn.place[turn.worst].reads != VS_READS_STRONG));
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        const vs_turn_place *place = &turn.place[i];
        CHECK_TRUE(!place->stands || !place->meets_wants ||
                   place->net_stops <= turn.place[turn.best].net_stops);
    }
}

/* If nothing meets the wants, there is no best place. */
static void no_place_is_best_where_none_meets_the_wants(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    hall_add_want(&h, VS_WANT_SIGHT, 1000);
    sweep(&h, 0.03, &turn);
    CHECK_TRUE(turn.best == VS_NONE && turn.worst == VS_NONE);
}

/* A place behind the camera's wall counts only if no place in front of it meets the wants. */
static void the_cameras_room_comes_first(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    vs_scene_room rooms[2] = {h.room, h.room};
    rooms[0].size_m.x = 10.5;
    rooms[1].corner_m.x = 10.5;
    rooms[1].size_m.x = h.room.size_m.x - 10.5;
    vs_scene_opening whole = {.name = "arch",
                              .room = {0, 1},
                              .corner_m = {{10.5, 0, 0}, {10.5, h.room.size_m.y, h.room.size_m.z}},
                              .transmittance = 1,
                              .exchange_m3_per_s = 0};
    h.scene.room = rooms;
    h.scene.room_count = 2;
    h.scene.opening = &whole;
    h.scene.opening_count = 1;
    sweep(&h, 0.02, &turn);
    bool beyond = false;
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        beyond = beyond || (turn.place[i].stands && turn.place[i].room == 1);
    }
    CHECK_TRUE(beyond);
    CHECK_TRUE(turn.best != VS_NONE && turn.place[turn.best].room == 0);
    CHECK_TRUE(turn.worst == VS_NONE || turn.place[turn.worst].room == 0);
}

static void who_cannot_be_turned_is_told(void **state) {
    (void)state;
    hall_set h;
    static vs_turn turn;
    make(&h);
    double k = 0.03;
    vs_predictor p;
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    CHECK_TRUE(vs_turn_can(&h.light[0]) && !vs_turn_can(&h.light[1]));
    CHECK_STATUS(vs_turn_sweep(&p, 0, 1, &k, &turn), VS_ERR_INPUT);
    h.shot[0].light = h.light_index + 1;
    h.shot[0].light_count = 1;
    CHECK_STATUS(vs_turn_sweep(&p, 0, 0, &k, &turn), VS_ERR_INPUT);
    h.light[0].aim_m = (vs_vec3){11, 4.5, 0};
    CHECK_TRUE(!vs_turn_can(&h.light[0]));
    vs_predictor_free(&p);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_quarter_turn_is_as_set_by_hand),
        cmocka_unit_test(back_light_reads_and_front_light_does_not),
        cmocka_unit_test(places_that_are_none_and_wants_are_minded),
        cmocka_unit_test(no_place_is_best_where_none_meets_the_wants),
        cmocka_unit_test(the_cameras_room_comes_first),
        cmocka_unit_test(who_cannot_be_turned_is_told),
    };
    return RUN_TESTS(tests);
}
