/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The choice of densities against closed forms, and its rules on constructed scenes. In a uniform
 * radiance L the veil over a distance d is L (1 - exp(-k d)) and the transmission exp(-k d)
 * (Koschmieder 1924), so that densities can be solved for on paper. */
#include "check.h"
#include "hall.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/shot/choose.h"
#include "veilstop/shot/held.h"

#define AMBIENT_NITS 3.7

static vs_choices choose(const hall_set *h) {
    vs_predictor p;
    vs_choices c;
    CHECK_OK(vs_predictor_init(&p, &h->scene));
    CHECK_OK(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c));
    vs_predictor_free(&p);
    return c;
}

static double worst_relative = 0;

static void check_density(double got, double want) {
    worst_relative = fmax(worst_relative, fabs(got / want - 1));
    CHECK_NEAR(got, want, 1e-6, 0);
}

/* Contrast of a and b at one distance d: with T = exp(-k d) and e the camera's floor,
 * (a T + L (1-T) + e)/(b T + L (1-T) + e) = R, the clear ratio over 2^limit, is linear in T. */
static void contrast_is_solved_as_on_paper(void **state) {
    (void)state;
    const double limits[] = {0.13, 0.5, 1.7};
    for (int i = 0; i < 3; i++) {
        hall_set h;
        hall_init(&h, AMBIENT_NITS);
        hall_add_shot(&h, 0);
        hall_add_point(&h, 11.3, 23);
        hall_add_point(&h, 11.3, 1.9);
        hall_add_want(&h, VS_WANT_CONTRAST, limits[i]);
        vs_choices c = choose(&h);
        double e = vs_camera_floor_nits(&h.camera[0]), l = AMBIENT_NITS;
        double ratio = (23 + e) / (1.9 + e) * exp2(-limits[i]);
        double left = (ratio - 1) * (l + e) / (23 - l - ratio * (1.9 - l));
        double want = -log(left) / 11.3;
        check_density(c.shot[0].highest_per_m, want);
        check_density(c.shot[0].recommended_per_m, 0.7 * want);
        check_density(c.shot[0].want[0].at_most_per_m, want);
        CHECK_TRUE(c.shot[0].met && c.shot[0].lowest_per_m == 0);
        CHECK_TRUE(c.shot[0].want[0].binds_highest && !c.shot[0].want[0].binds_lowest);
        CHECK_NEAR(c.shot[0].search_end_per_m, 3 / 11.3, 1e-12, 0);
        vs_choices_free(&c);
    }
}

/* A linear curve shows 18 % for middle grey, so a lift of p percent is a veil of p/18 L_grey. */
static void black_level_is_solved_as_on_paper(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 7.9, 2);
    hall_add_want(&h, VS_WANT_BLACK, 3.1);
    vs_choices c = choose(&h);
    double veil = 3.1 / 18 * vs_camera_grey_nits(&h.camera[0]);
    check_density(c.shot[0].highest_per_m, -log1p(-veil / AMBIENT_NITS) / 7.9);
    vs_choices_free(&c);
}

/* Visible range = 3.912 / k (2 % threshold). A want for visibility sets a minimum, but limits haze:
 * 0.7 of the highest is recommended. */
static void sight_is_solved_as_on_paper(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 7.9, 2);
    hall_add_want(&h, VS_WANT_SIGHT, 37);
    vs_choices c = choose(&h);
    check_density(c.shot[0].highest_per_m, 3.912 / 37);
    check_density(c.shot[0].recommended_per_m, 0.7 * 3.912 / 37);
    vs_choices_free(&c);
}

/* The veil of another shot: at distances d and D in the same light, k = K D/d. Within w stops:
 * 1 - exp(-k d) + e/L = (1 - exp(-K D) + e/L) 2^(+-w). */
static void like_is_solved_as_on_paper(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 5.1, 2);
    hall_give(&h, 0.041);
    hall_add_shot(&h, 1);
    hall_add_point(&h, 9.7, 2);
    vs_scene_want *like = hall_add_want(&h, VS_WANT_LIKE, 0.2);
    like->shot = 0;
    vs_choices c = choose(&h);
    double e = vs_camera_floor_nits(&h.camera[1]) / AMBIENT_NITS, other = -expm1(-0.041 * 5.1) + e;
    const vs_choice *shot = &c.shot[1];
    check_density(shot->lowest_per_m, -log1p(e - other * exp2(-0.2)) / 9.7);
    check_density(shot->highest_per_m, -log1p(e - other * exp2(0.2)) / 9.7);
    CHECK_NEAR(shot->like[0].extinction_per_m, 0.041 * 5.1 / 9.7, 1e-5, 0);
    CHECK_NEAR(shot->recommended_per_m, 0.041 * 5.1 / 9.7, 1e-5, 0);
    CHECK_NEAR(shot->like[0].same_haze_stops, log2((-expm1(-0.041 * 9.7) + e) / other), 1e-9, 0);
    CHECK_TRUE(shot->like_count == 1 && shot->like[0].light == VS_NONE);
    vs_choices_free(&c);
    printf("measured: densities of closed forms, worst relative error %.1e\n", worst_relative);
}

/* A scan of 4000 densities must agree with the choice. Returns the number of crossings. */
static int check_by_scan(const hall_set *h, const vs_choice *choice) {
    vs_predictor p;
    CHECK_OK(vs_predictor_init(&p, &h->scene));
    const vs_scene_shot *shot = &h->scene.shot[choice->shot];
    bool was = false;
    int crossings = 0;
    for (int i = 0; i <= 4000; i++) {
        double k = choice->search_end_per_m * i / 4000, near_edge = INFINITY;
        vs_shot_prediction prediction;
        const vs_predict_part part = {NULL, false, false, NULL};
        CHECK_OK(vs_predict_part_of_shot(&p, choice->shot, &part, &k, &prediction));
        bool meets = true, inside = false;
        for (size_t w = 0; w < shot->want_count; w++) {
            meets = meets && vs_want_evaluate(&prediction, w, &h->camera[shot->camera], NULL).met;
        }
        for (size_t n = 0; n < choice->meets.count; n++) {
            const vs_interval *in = &choice->meets.item[n];
            inside = inside || (k >= in->low && k <= in->high);
            near_edge = fmin(near_edge, fmin(fabs(k - in->low), fabs(k - in->high)));
        }
        CHECK_TRUE(meets == inside || near_edge < 1e-6 * choice->search_end_per_m);
        crossings += i > 0 && meets != was;
        was = meets;
        vs_shot_prediction_free(&prediction);
    }
    vs_predictor_free(&p);
    return crossings;
}

/* Separation in a uniform light rises, then falls: both veils end at L. One interval, whose ends
 * are (L (1 - exp(-k d_far)) + e)/(L (1 - exp(-k d_near)) + e) = 2^limit. */
static void a_want_for_haze_has_two_ends(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2.3, 2);
    hall_add_point(&h, 16, 2);
    hall_add_want(&h, VS_WANT_SEPARATION, 1.6);
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(shot->met && shot->meets.count == 1 && shot->lowest_per_m > 0);
    CHECK_TRUE(shot->want[0].binds_lowest && shot->want[0].binds_highest);
    const double end[2] = {shot->lowest_per_m, shot->highest_per_m};
    double e = vs_camera_floor_nits(&h.camera[0]) / AMBIENT_NITS;
    for (int i = 0; i < 2; i++) {
        double ratio = (-expm1(-end[i] * 16) + e) / (-expm1(-end[i] * 2.3) + e);
        CHECK_NEAR(log2(ratio), 1.6, 1e-8, 0);
    }
    CHECK_NEAR(shot->recommended_per_m, 1.15 * end[0], 1e-12, 0);
    CHECK_TRUE(check_by_scan(&h, shot) == 2);
    vs_choices_free(&c);
}

/* A near grey before a far black, in a light brighter than both: haze reverses their contrast, then
 * flattens it, so that thin and thick haze lose little and medium haze much. */
static void two_stretches_of_densities_are_both_found(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 40);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 1.2, 2.2);
    hall_add_point(&h, 17, 0.9);
    hall_add_want(&h, VS_WANT_CONTRAST, 3.5);
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(shot->met && shot->meets.count == 2);
    CHECK_TRUE(shot->lowest_per_m == 0 && shot->highest_per_m == shot->search_end_per_m);
    CHECK_TRUE(check_by_scan(&h, shot) == 2);
    CHECK_TRUE(vs_intervals_hold(&shot->meets, shot->recommended_per_m));
    vs_choices_free(&c);
}

/* The best density has the largest smallest margin of a fine scan. */
static void wants_both_ways_are_balanced(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2.3, 12);
    hall_add_point(&h, 16, 2);
    hall_add_want(&h, VS_WANT_SEPARATION, 1.4);
    hall_add_want(&h, VS_WANT_CONTRAST, 1.1);
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(shot->met && shot->meets.count == 1);
    CHECK_TRUE(shot->want[0].binds_lowest && shot->want[1].binds_highest);
    double margin = fmin(shot->want[0].recommended.margin, shot->want[1].recommended.margin);
    vs_predictor p;
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    for (int i = 0; i <= 2000; i++) {
        double k = shot->search_end_per_m * i / 2000;
        vs_shot_prediction prediction;
        CHECK_OK(vs_predict_shot(&p, 0, &k, &prediction));
        double here = fmin(vs_want_evaluate(&prediction, 0, &h.camera[0], NULL).margin,
                           vs_want_evaluate(&prediction, 1, &h.camera[0], NULL).margin);
        CHECK_TRUE(here <= margin + 1e-6);
        vs_shot_prediction_free(&prediction);
    }
    vs_predictor_free(&p);
    vs_choices_free(&c);
}

/* Sight of 60 m allows 0.0652 /m, a separation of 1.4 stops asks for more: no density. The contrast
 * is met at any density and not part of the conflict. */
static void a_conflict_names_the_wants_that_make_it(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2.3, 2);
    hall_add_point(&h, 16, 2);
    hall_add_want(&h, VS_WANT_CONTRAST, 3);
    hall_add_want(&h, VS_WANT_SEPARATION, 2.1);
    hall_add_want(&h, VS_WANT_SIGHT, 1500);
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(!shot->met && shot->meets.count == 0);
    CHECK_NAN(shot->lowest_per_m);
    CHECK_TRUE(!shot->want[0].in_conflict && shot->want[1].in_conflict &&
               shot->want[2].in_conflict);
    CHECK_TRUE(shot->want[1].possible && shot->want[2].possible);
    CHECK_NEAR(shot->want[2].at_most_per_m, 3.912 / 1500, 1e-9, 0);
    CHECK_TRUE(shot->want[1].at_least_per_m > shot->want[2].at_most_per_m);
    /* the density that misses least misses both by the same share */
    CHECK_NEAR(shot->want[1].recommended.margin, shot->want[2].recommended.margin, 0, 1e-4);
    CHECK_TRUE(shot->want[1].recommended.margin < 0);
    CHECK_TRUE(check_by_scan(&h, shot) == 0);
    vs_choices_free(&c);
}

static void a_want_that_nothing_meets_stands_alone(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2.3, 2);
    hall_add_point(&h, 4.6, 2);
    hall_add_want(&h, VS_WANT_SIGHT, 100);
    hall_add_want(&h, VS_WANT_SEPARATION, 1.5); /* at most log2 2 for twice the distance */
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(!shot->met && shot->agree && !shot->want[0].in_conflict);
    CHECK_TRUE(!shot->want[1].possible && !shot->want[1].in_conflict);
    CHECK_TRUE(shot->want[1].why == VS_UNREACHED_WEAK && shot->want[1].best.value <= 1);
    /* the other decides, as if it stood alone: 0.7 of 3.912/100 (docs/physics.md) */
    CHECK_NEAR(shot->highest_per_m, 0.03912, 1e-9, 0);
    CHECK_NEAR(shot->recommended_per_m, 0.7 * 0.03912, 1e-9, 0);
    vs_choices_free(&c);
}

static void what_is_hidden_or_passes_beside_is_said(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.2);
    h.scene.hazer.room = VS_NONE;
    hall_add_spot(&h, (vs_vec3){6, 5, 3.5}, (vs_vec3){6, 5.8, 0.5}, 12, 9000);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2.3, 2);
    hall_add_point(&h, 9, 2);
    vs_scene_blocker board = {
        .name = "board", .at_m = {6, 3, 1.5}, .aim_m = {1, 3, 1.5}, .width_m = 1, .height_m = 1};
    h.scene.blocker = &board;
    h.scene.blocker_count = 1;
    hall_add_want(&h, VS_WANT_BEAM, 0.5)->near_m = (vs_vec3){4, 2, 1.5};  /* passes beside */
    hall_add_want(&h, VS_WANT_BEAM, 0.5)->near_m = (vs_vec3){12, 3, 1.5}; /* behind the board */
    hall_add_want(&h, VS_WANT_SEPARATION, 9);                             /* its far point too */
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(!shot->met && !shot->agree && shot->meets.count == 0);
    CHECK_TRUE(shot->want[0].why == VS_UNREACHED_BESIDE);
    CHECK_TRUE(shot->want[1].why == VS_UNREACHED_HIDDEN && shot->want[1].hidden_point == VS_NONE);
    CHECK_TRUE(shot->want[2].why == VS_UNREACHED_HIDDEN && shot->want[2].hidden_point == 1);
    /* a want that cannot be met does not force clear air */
    CHECK_TRUE(shot->recommended_per_m >= shot->least_per_m && shot->least_per_m == 0.0002);
    vs_choices_free(&c);
}

/* A sight of 40 km holds under 3.912/40000 = 0.0000978 /m, less than clear air (0.0002 /m):
 * no haze is recommended. With a want for haze beside it the least haze is. */
static void haze_thinner_than_clear_air_is_not_recommended(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    h.scene.hazer.room = VS_NONE;
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2, 2);
    hall_add_point(&h, 16, 2);
    hall_add_want(&h, VS_WANT_SIGHT, 40000);
    vs_choices c = choose(&h);
    CHECK_TRUE(c.shot[0].met && c.shot[0].none_needed && c.shot[0].planned_met);
    CHECK_TRUE(c.shot[0].recommended_per_m == 0);
    CHECK_NEAR(c.shot[0].want[0].least.value, 3.912 / 0.0002, 1e-9, 0);
    vs_choices_free(&c);
    hall_add_want(&h, VS_WANT_SEPARATION, 0.001);
    c = choose(&h);
    CHECK_TRUE(!c.shot[0].met && c.shot[0].agree && c.shot[0].too_thin && !c.shot[0].none_needed);
    CHECK_NEAR(c.shot[0].recommended_per_m, 0.0002, 0, 0);
    vs_choices_free(&c);
}

/* Wants that hold in any haze do not ask for any: the end of the search is no limit to plan by. Two
 * points alike in a radiance like theirs lose no contrast. */
static void wants_that_limit_nothing_ask_for_no_haze(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 2);
    h.scene.hazer.room = VS_NONE;
    hall_add_shot(&h, 0);
    hall_add_point(&h, 2, 2);
    hall_add_point(&h, 16, 2);
    hall_add_want(&h, VS_WANT_CONTRAST, 0.5);
    vs_choices c = choose(&h);
    CHECK_TRUE(c.shot[0].met && c.shot[0].highest_per_m == c.shot[0].search_end_per_m);
    CHECK_TRUE(c.shot[0].none_needed && c.shot[0].recommended_per_m == 0);
    vs_choices_free(&c);
}

/* What is hidden cannot be mended by a lamp, nor met: the board in front of both points is as dark
 * as the want asks. Another want of the shot is mended as if it stood alone. */
static void no_lamp_uncovers_what_is_hidden(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.1);
    hall_add_lamp(&h, (vs_vec3){4, 5, 3}, 3000);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 4.5, 5);
    hall_add_point(&h, 17, 5);
    hall_give(&h, 0.03);
    vs_scene_blocker board = {
        .name = "board", .at_m = {6, 3, 1.5}, .aim_m = {1, 3, 1.5}, .width_m = 1, .height_m = 1};
    h.scene.blocker = &board;
    h.scene.blocker_count = 1;
    vs_scene_want *black = hall_add_want(&h, VS_WANT_BLACK, 90);
    black->a = 1;
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(!shot->planned_met && !shot->met && !shot->want[0].possible);
    CHECK_TRUE(shot->want[0].why == VS_UNREACHED_HIDDEN && shot->want[0].hidden_point == 1);
    CHECK_TRUE(shot->mend.dim_light == VS_NONE && shot->mend.flag_light == VS_NONE);
    CHECK_TRUE(shot->want[0].planned.value < 90 && !shot->want[0].planned.met);
    CHECK_TRUE(shot->want[0].planned.margin <= VS_WANT_HIDDEN_MARGIN);
    vs_choices_free(&c);
    hall_add_want(&h, VS_WANT_BLACK, 1.5)->a = 0;
    c = choose(&h);
    CHECK_TRUE(!c.shot[0].planned_met && c.shot[0].mend.dim_light == 0);
    vs_choices_free(&c);
}

/* A beam rises and falls with density. Its two ends, and those of a black beside it, against the
 * scan; the beam's want alone is asked for 1.15 of the lowest. */
static void a_beam_rises_and_falls_again(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.4);
    hall_add_spot(&h, (vs_vec3){6, 5, 3.5}, (vs_vec3){9, 1, 0.5}, 12, 9000);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 3.5, 2);
    vs_scene_want *beam = hall_add_want(&h, VS_WANT_BEAM, 0.8);
    beam->near_m = (vs_vec3){7.5, 3, 2};
    vs_choices c = choose(&h);
    CHECK_TRUE(c.shot[0].met && c.shot[0].meets.count == 1);
    CHECK_NEAR(c.shot[0].recommended_per_m, 1.15 * c.shot[0].lowest_per_m, 1e-12, 0);
    CHECK_TRUE(check_by_scan(&h, &c.shot[0]) == 2);
    printf("measured: a beam of 0.8 stops is had from %.4f to %.4f /m of %.4f\n",
           c.shot[0].lowest_per_m, c.shot[0].highest_per_m, c.shot[0].search_end_per_m);
    vs_choices_free(&c);
}

/* A key from behind the camera's subject: the reverse angle's veil at the same haze, and the dimmer
 * that brings it to the other's, which must do so when the scene is predicted with it. */
static void the_dimmer_of_a_reverse_angle_gives_the_look(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.1);
    hall_add_lamp(&h, (vs_vec3){2, 5, 3}, 400);
    hall_add_lamp(&h, (vs_vec3){10, 1, 3}, 30);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 9, 5);
    hall_give(&h, 0.02);
    hall_add_shot(&h, 1);
    hall_add_point(&h, 9, 5);
    hall_add_want(&h, VS_WANT_LIKE, 0.1)->shot = 0;
    vs_choices c = choose(&h);
    const vs_choice_like *like = &c.shot[1].like[0];
    CHECK_TRUE(like->same_haze_stops > 0.1 && like->light == 0);
    CHECK_TRUE(like->dimmer > 0 && like->dimmer < 1);
    double dimmer = like->dimmer, k = 0.02;
    printf("measured: reverse angle %+.2f stops of veil at the same haze; dimmer %.3f or %.4f /m\n",
           like->same_haze_stops, dimmer, like->extinction_per_m);
    vs_choices_free(&c);
    h.light[0].dimmer = dimmer;
    vs_predictor p;
    vs_shot_prediction reverse, front;
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    CHECK_OK(vs_predict_shot(&p, 1, &k, &reverse));
    h.light[0].dimmer = 1;
    CHECK_OK(vs_predict_shot(&p, 0, &k, &front));
    CHECK_NEAR(vs_bands_luminance(reverse.point[0].veil_nits),
               vs_bands_luminance(front.point[0].veil_nits), 1e-7, 0);
    vs_shot_prediction_free(&reverse);
    vs_shot_prediction_free(&front);
    vs_predictor_free(&p);
}

/* The one lamp that mends a given density: with it dimmed by that much all wants are met; with a
 * tenth of a stop less they are not. */
static void the_lamp_that_mends_a_shot_does(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 0.1);
    hall_add_lamp(&h, (vs_vec3){14, 5, 3}, 300);
    hall_add_spot(&h, (vs_vec3){6, 5, 3.5}, (vs_vec3){9, 1, 0.5}, 12, 40000);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 17, 5);
    hall_give(&h, 0.03);
    hall_add_want(&h, VS_WANT_BLACK, 1.5);
    vs_scene_want *beam = hall_add_want(&h, VS_WANT_BEAM, 0.5);
    beam->light = 1;
    beam->near_m = (vs_vec3){7.5, 3, 2};
    vs_choices c = choose(&h);
    const vs_choice *shot = &c.shot[0];
    CHECK_TRUE(!shot->planned_met && shot->planned_per_m == 0.03);
    CHECK_TRUE(shot->mend.dim_light == 0 && shot->mend.flag_light == 0);
    double stops = shot->mend.dim_stops, k = 0.03;
    CHECK_TRUE(stops > 0.2 && stops < 8);
    printf("measured: black of 1.5 %% at 0.03 /m mended by a lamp %.2f stops down\n", stops);
    vs_choices_free(&c);
    for (int i = 0; i < 2; i++) {
        vs_predictor p;
        vs_shot_prediction prediction;
        CHECK_OK(vs_predictor_init(&p, &h.scene));
        p.dim[0] = exp2(-stops + 0.1 * i);
        CHECK_OK(vs_predict_shot(&p, 0, &k, &prediction));
        CHECK_TRUE(vs_want_evaluate(&prediction, 0, &h.camera[0], NULL).met == (i == 0));
        CHECK_TRUE(vs_want_evaluate(&prediction, 1, &h.camera[0], NULL).met);
        vs_shot_prediction_free(&prediction);
        vs_predictor_free(&p);
    }
}

/* A shot without wants keeps its density; open shots that wait for each other are refused. */
static void what_cannot_be_chosen_is_said(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, 1);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 9, 5);
    hall_give(&h, 0.02);
    vs_choices c = choose(&h);
    CHECK_TRUE(c.shot[0].met && c.shot[0].planned_per_m == 0.02 &&
               c.shot[0].recommended_per_m == 0.02 && c.shot[0].want_count == 0);
    vs_choices_free(&c);
    for (int i = 0; i < 2; i++) {
        hall_add_shot(&h, 1);
        hall_add_point(&h, 9, 5);
        hall_add_want(&h, VS_WANT_LIKE, 0.1)->shot = i == 0 ? 2 : 1;
    }
    vs_predictor p;
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    CHECK_STATUS(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c), VS_ERR_INPUT);
    CHECK_TRUE(c.culprit == 1 && !c.shot);
    CHECK_OK(vs_choose(&p, 0, VS_CHOOSE_DENSITIES, &c));
    CHECK_TRUE(c.shot[0].planned_per_m == 0.02);
    CHECK_NAN(c.shot[1].recommended_per_m);
    vs_choices_free(&c);
    h.scene.shot_count = 1;
    h.shot[0].density = VS_DENSITY_OPEN;
    CHECK_STATUS(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c), VS_ERR_INPUT);
    CHECK_TRUE(c.culprit == 0);
    vs_predictor_free(&p);
}

/* Rooms that a shot gives densities of their own keep their ratio; looking like itself is not a
 * want. */
static void rooms_keep_their_ratio(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    vs_scene_room rooms[2] = {h.room, h.room};
    rooms[1].corner_m.x = 20;
    h.scene.room = rooms;
    h.scene.room_count = 2;
    const double density[2] = {0.02, 0.005};
    hall_add_shot(&h, 0);
    hall_add_point(&h, 9, 2);
    hall_add_want(&h, VS_WANT_SIGHT, 100);
    hall_add_want(&h, VS_WANT_LIKE, 0.1);
    h.shot[0].density = VS_DENSITY_EXTINCTION;
    h.shot[0].room_density = density;
    h.shot[0].density_by_room = true;
    vs_predictor p;
    vs_choices c;
    double room[2];
    CHECK_OK(vs_predictor_init(&p, &h.scene));
    CHECK_OK(vs_held_rooms(&h.scene, &h.shot[0], &p.haze, 0.06, room));
    CHECK_NEAR(room[0], 0.06, 1e-15, 0);
    CHECK_NEAR(room[1], 0.015, 1e-15, 0);
    CHECK_OK(vs_choose(&p, VS_NONE, VS_CHOOSE_ADVICE, &c));
    CHECK_TRUE(c.shot[0].met && c.shot[0].planned_met && c.shot[0].like_count == 0);
    check_density(c.shot[0].highest_per_m, 0.03912);
    vs_choices_free(&c);
    vs_predictor_free(&p);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(contrast_is_solved_as_on_paper),
        cmocka_unit_test(black_level_is_solved_as_on_paper),
        cmocka_unit_test(sight_is_solved_as_on_paper),
        cmocka_unit_test(like_is_solved_as_on_paper),
        cmocka_unit_test(a_want_for_haze_has_two_ends),
        cmocka_unit_test(two_stretches_of_densities_are_both_found),
        cmocka_unit_test(wants_both_ways_are_balanced),
        cmocka_unit_test(a_conflict_names_the_wants_that_make_it),
        cmocka_unit_test(a_want_that_nothing_meets_stands_alone),
        cmocka_unit_test(what_is_hidden_or_passes_beside_is_said),
        cmocka_unit_test(haze_thinner_than_clear_air_is_not_recommended),
        cmocka_unit_test(wants_that_limit_nothing_ask_for_no_haze),
        cmocka_unit_test(no_lamp_uncovers_what_is_hidden),
        cmocka_unit_test(a_beam_rises_and_falls_again),
        cmocka_unit_test(the_dimmer_of_a_reverse_angle_gives_the_look),
        cmocka_unit_test(the_lamp_that_mends_a_shot_does),
        cmocka_unit_test(what_cannot_be_chosen_is_said),
        cmocka_unit_test(rooms_keep_their_ratio),
    };
    return RUN_TESTS(tests);
}
