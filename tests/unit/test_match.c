/* SPDX-License-Identifier: GPL-3.0-or-later */
/* camera/match: cameras made here, their pixels by the pinhole's definition (any text on projective
 * geometry), found again; a linear solution (DLT: Abdel-Aziz & Karara 1971, Hartley & Zisserman ch.
 * 7, from memory) as an independent check; noise; pairs that determine no camera. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/fit.h"
#include "veilstop/base/polynomial.h"
#include "veilstop/base/units.h"
#include "veilstop/camera/match.h"
#include "veilstop/camera/view.h"

/* [pixels] a phone's photo of 12 megapixels; common practice, no source */
#define WIDTH  4032.0
#define HEIGHT 3024.0
#define FOCAL  (WIDTH * 26 / 36) /* [pixels] its wide lens: 26 mm on 36; common practice */

static vs_view view_of(vs_vec3 at_m, vs_vec3 aim_m, double focal_px, double roll_rad) {
    vs_camera c = {.at_m = at_m, .aim_m = aim_m, .roll_rad = roll_rad};
    c.focal_m = focal_px;
    c.sensor_width_m = WIDTH;
    c.sensor_height_m = HEIGHT;
    return vs_view_make(&c);
}

/* The pixel of a place by the view; false where it is out of frame by more than `beyond` of it. */
static bool pixel_of(const vs_view *view, vs_vec3 p, double beyond, double *x, double *y) {
    double u, v;
    if (!vs_view_place(view, p, &u, &v) || fabs(u) > 1 + beyond || fabs(v) > 1 + beyond) {
        return false;
    }
    *x = WIDTH / 2 * (1 + u);
    *y = HEIGHT / 2 * (1 - v);
    return true;
}

static double normal(random_stream *r) {
    double u = random_uniform(r, 1e-12, 1), v = random_uniform(r, 0, 1);
    return sqrt(-2 * log(u)) * cos(2 * VS_PI * v);
}

static bool in_room(const void *context, vs_vec3 p) {
    (void)context;
    return p.x >= 0 && p.x <= 9 && p.y >= 0 && p.y <= 5 && p.z >= 0 && p.z <= 3.2;
}

static vs_match_ask ask_of(const vs_match_pair *pair, size_t count) {
    vs_match_ask ask = {WIDTH, HEIGHT, pair, count, NAN, {NAN, NAN, NAN}, in_room, NULL};
    return ask;
}

static double turn_deg(const vs_match_pose *pose, const vs_view *view) {
    double cosine = fmin(vs_vec3_dot(pose->forward, view->forward), 1);
    return acos(cosine) / VS_RAD_PER_DEG;
}

/* Places as scouts find them: corners of the room, a doorway in the far wall, a hatch in the
 * ceiling, a board in the middle; near and far by turns. Returns how many are in frame. */
static size_t pairs_of(const vs_view *view, vs_match_pair *pair, size_t most) {
    static const vs_vec3 place[] = {{9, 0, 0},     {6, 4.2, 0.5},   {9, 5, 3.2},   {4.4, 3.2, 3.2},
                                    {9, 1.9, 2.1}, {7.2, 4.2, 2.3}, {9, 5, 0},     {5.6, 4.4, 3.2},
                                    {9, 2.9, 0},   {6, 4.2, 2.3},   {9, 0, 3.2},   {5.6, 3.2, 3.2},
                                    {9, 1.9, 0},   {7.2, 4.2, 0.5}, {9, 2.9, 2.1}, {4.4, 4.4, 3.2},
                                    {0, 0, 0},     {0, 5, 0},       {0, 0, 3.2},   {0, 5, 3.2}};
    size_t count = 0;
    for (size_t i = 0; i < sizeof place / sizeof *place && count < most; i++) {
        vs_match_pair made = {.at_m = place[i]};
        if (pixel_of(view, place[i], 0, &made.x_px, &made.y_px)) {
            pair[count++] = made;
        }
    }
    return count;
}

static void roots_put_back(void **state) {
    (void)state;
    /* (x - 1)(x + 2)(x^2 + 1), and the same with a leading 0 */
    const double k[] = {-2, 1, -1, 1, 1, 0};
    double root[5];
    size_t count;
    CHECK_OK(vs_polynomial_real_roots(k, 5, root, &count));
    CHECK_TRUE(count == 2);
    CHECK_NEAR(fmin(root[0], root[1]), -2, 1e-12, 0);
    CHECK_NEAR(fmax(root[0], root[1]), 1, 1e-12, 0);
    CHECK_STATUS(vs_polynomial_real_roots(k, 0, root, &count), VS_ERR_DOMAIN);
    CHECK_STATUS(vs_polynomial_real_roots(k, 9, root, &count), VS_ERR_DOMAIN);
}

/* Without noise a camera is found to rounding, with its roll. */
static void a_camera_is_found_again(void **state) {
    (void)state;
    random_stream r = {1};
    int tried = 0;
    for (int round = 0; round < 600 && tried < 80; round++) {
        vs_vec3 at = {random_uniform(&r, 0.2, 8.8), random_uniform(&r, 0.2, 4.8),
                      random_uniform(&r, 0.4, 2.2)};
        vs_vec3 aim = {random_uniform(&r, 0, 9), random_uniform(&r, 0, 5),
                       random_uniform(&r, 0, 3.2)};
        double focal = random_log_uniform(&r, 0.5, 1.2) * WIDTH,
               roll = random_uniform(&r, -30, 30) * VS_RAD_PER_DEG;
        if (hypot(aim.x - at.x, aim.y - at.y) < 1) {
            continue;
        }
        vs_view view = view_of(at, aim, focal, roll);
        vs_match_pair pair[20];
        size_t count = pairs_of(&view, pair, 20);
        if (count < 6) {
            continue;
        }
        vs_match_ask ask = ask_of(pair, count);
        vs_match match;
        CHECK_OK(vs_camera_match(&ask, &match));
        if (match.outcome == VS_MATCH_LOOSE || match.outcome == VS_MATCH_LOOSE_SQUARE ||
            match.outcome == VS_MATCH_CLOSE) {
            continue; /* told so; the test after next knows when */
        }
        tried++;
        CHECK_TRUE(match.outcome == VS_MATCH_FOUND);
        CHECK_TRUE(match.used_count == count);
        CHECK_NEAR(match.pose.at_m.x, at.x, 0, 1e-5);
        CHECK_NEAR(match.pose.at_m.y, at.y, 0, 1e-5);
        CHECK_NEAR(match.pose.at_m.z, at.z, 0, 1e-5);
        CHECK_NEAR(match.pose.focal_px, focal, 1e-5, 0);
        CHECK_NEAR(vs_match_roll_rad(&match.pose), roll, 0, 1e-5);
        CHECK_TRUE(turn_deg(&match.pose, &view) < 1e-3);
    }
    CHECK_TRUE(tried > 60);
}

/* The projection matrix of six or more pairs by linear equations, and the camera in it. */
static void direct_linear(const vs_match_pair *pair, size_t count, vs_vec3 *at_m, double *focal) {
    double row[2 * 20 * 11] = {0}, wanted[2 * 20], m[11];
    for (size_t i = 0; i < count; i++) {
        double x = (pair[i].x_px - WIDTH / 2) / WIDTH, y = (HEIGHT / 2 - pair[i].y_px) / WIDTH;
        vs_vec3 p = pair[i].at_m;
        const double h[4] = {p.x, p.y, p.z, 1};
        for (int k = 0; k < 4; k++) {
            row[(2 * i) * 11 + (size_t)k] = h[k];
            row[(2 * i + 1) * 11 + 4 + (size_t)k] = h[k];
            if (k < 3) {
                row[(2 * i) * 11 + 8 + (size_t)k] = -x * h[k];
                row[(2 * i + 1) * 11 + 8 + (size_t)k] = -y * h[k];
            }
        }
        wanted[2 * i] = x;
        wanted[2 * i + 1] = y;
    }
    CHECK_OK(vs_fit_linear(row, wanted, 2 * count, 11, m));
    /* the centre is where all three rows are 0 */
    const double left[9] = {m[0], m[1], m[2], m[4], m[5], m[6], m[8], m[9], m[10]};
    const double right[3] = {-m[3], -m[7], -1};
    double c[3];
    CHECK_OK(vs_fit_linear(left, right, 3, 3, c));
    vs_vec3 at = {c[0], c[1], c[2]}, first = {m[0], m[1], m[2]}, third = {m[8], m[9], m[10]};
    *at_m = at;
    *focal = WIDTH * vs_vec3_length(vs_vec3_cross(first, third)) / vs_vec3_dot(third, third);
}

static void goes_with_a_linear_solution(void **state) {
    (void)state;
    vs_vec3 at = {0.6, 2.4, 1.5}, aim = {9, 2.6, 1.3}, linear_at;
    double linear_focal;
    vs_view view = view_of(at, aim, FOCAL, 0.02);
    vs_match_pair pair[20];
    size_t count = pairs_of(&view, pair, 20);
    CHECK_TRUE(count >= 10);
    vs_match_ask ask = ask_of(pair, count);
    vs_match match;
    CHECK_OK(vs_camera_match(&ask, &match));
    direct_linear(pair, count, &linear_at, &linear_focal);
    CHECK_NEAR(linear_at.x, match.pose.at_m.x, 0, 1e-6);
    CHECK_NEAR(linear_at.y, match.pose.at_m.y, 0, 1e-6);
    CHECK_NEAR(linear_at.z, match.pose.at_m.z, 0, 1e-6);
    CHECK_NEAR(linear_focal, match.pose.focal_px, 1e-6, 0);
}

/* Errors of many trials with pixel noise of 1, for one geometry. */
typedef struct {
    double at_rms_m, aim_rms_deg, roll_rms_deg, focal_rms; /* of what was found */
    double at_worst_m, aim_worst_deg, focal_worst;
    double at_within, focal_within; /* share inside the stated 1.645 deviations */
    int found, trials;
} trials;

static trials try_noise(vs_vec3 at, vs_vec3 aim, double focal, size_t most, double known,
                        uint64_t seed) {
    random_stream r = {seed};
    trials t = {.trials = 200};
    vs_view view = view_of(at, aim, focal, 0.03);
    double at_sum = 0, aim_sum = 0, roll_sum = 0, focal_sum = 0, at_in = 0, focal_in = 0;
    for (int i = 0; i < t.trials; i++) {
        vs_match_pair pair[20];
        size_t count = pairs_of(&view, pair, most);
        for (size_t k = 0; k < count; k++) {
            pair[k].x_px += normal(&r);
            pair[k].y_px += normal(&r);
        }
        vs_match_ask ask = ask_of(pair, count);
        ask.focal_px = known;
        ask.near_m = at;
        vs_match m;
        CHECK_OK(vs_camera_match(&ask, &m));
        if (m.outcome != VS_MATCH_FOUND) {
            continue;
        }
        double off = vs_vec3_length(vs_vec3_sub(m.pose.at_m, at)), turn = turn_deg(&m.pose, &view);
        double f = m.pose.focal_px / focal - 1;
        t.found++;
        at_sum += off * off;
        aim_sum += turn * turn;
        roll_sum += pow((vs_match_roll_rad(&m.pose) - 0.03) / VS_RAD_PER_DEG, 2);
        focal_sum += f * f;
        at_in += fabs(m.pose.at_m.x - at.x) <= 1.645 * m.at_sd_m.x;
        focal_in += fabs(log1p(f)) <= 1.645 * m.focal_sd;
        t.at_worst_m = fmax(t.at_worst_m, off);
        t.aim_worst_deg = fmax(t.aim_worst_deg, turn);
        t.focal_worst = fmax(t.focal_worst, fabs(f));
    }
    double found = t.found > 0 ? t.found : (double)NAN;
    t.at_rms_m = sqrt(at_sum / found);
    t.aim_rms_deg = sqrt(aim_sum / found);
    t.roll_rms_deg = sqrt(roll_sum / found);
    t.focal_rms = sqrt(focal_sum / found);
    t.at_within = at_in / found;
    t.focal_within = focal_in / found;
    return t;
}

static void tell(const char *what, const trials *t) {
    print_message("%-34s found %3d of %d: at %.4f m rms (worst %.4f), aim %.3f deg (%.3f), roll "
                  "%.3f, focal %.4f (%.4f), 90 %% holds x %.2f, focal %.2f\n",
                  what, t->found, t->trials, t->at_rms_m, t->at_worst_m, t->aim_rms_deg,
                  t->aim_worst_deg, t->roll_rms_deg, t->focal_rms, t->focal_worst, t->at_within,
                  t->focal_within);
}

/* The stated figures hold for a room seen along its length with eight pairs or more, some of them
 * near; other cases are measured too. */
static void noise_of_a_pixel(void **state) {
    (void)state;
    const vs_vec3 end = {0.6, 2.4, 1.5}, ahead = {9, 2.6, 1.3}, nook = {0.5, 0.5, 1.6},
                  across = {7, 4.5, 1.0}, near_wall = {4, 2.5, 1.6}, wall = {9, 2.4, 1.3};
    trials t = try_noise(end, ahead, FOCAL, 20, NAN, 11);
    tell("along the room, all pairs", &t);
    CHECK_TRUE(t.found == t.trials && t.at_rms_m < 0.02 && t.aim_rms_deg < 0.3);
    CHECK_TRUE(t.focal_rms < 0.01 && t.roll_rms_deg < 0.3);
    CHECK_TRUE(t.at_within > 0.84 && t.at_within <= 0.98);
    CHECK_TRUE(t.focal_within > 0.84 && t.focal_within <= 0.98);
    t = try_noise(nook, across, FOCAL, 20, NAN, 12);
    tell("from a corner, all pairs", &t);
    CHECK_TRUE(t.found == t.trials && t.at_rms_m < 0.02 && t.aim_rms_deg < 0.3);
    CHECK_TRUE(t.focal_rms < 0.01);
    t = try_noise(end, ahead, FOCAL, 6, NAN, 13);
    tell("along the room, six pairs", &t);
    CHECK_TRUE(t.found == t.trials && t.at_rms_m < 0.02 && t.focal_rms < 0.01);
    t = try_noise(end, ahead, FOCAL, 4, NAN, 15);
    tell("along the room, four pairs", &t);
    CHECK_TRUE(t.found == t.trials && t.at_rms_m < 0.02 && t.focal_rms < 0.01);
    t = try_noise(end, ahead, FOCAL, 3, FOCAL, 16);
    tell("along the room, three, focal known", &t);
    CHECK_TRUE(t.found == t.trials && t.at_rms_m < 0.02 && t.aim_rms_deg < 0.3);
    t = try_noise(near_wall, wall, FOCAL, 20, NAN, 17);
    tell("one wall, square on", &t);
    t = try_noise(end, ahead, 3 * FOCAL, 20, NAN, 18);
    tell("along the room, three times the lens", &t);
}

static void wrong_pairs_are_left_out(void **state) {
    (void)state;
    vs_vec3 at = {0.6, 2.4, 1.5}, aim = {9, 2.6, 1.3};
    vs_view view = view_of(at, aim, FOCAL, 0);
    random_stream r = {5};
    for (int round = 0; round < 60; round++) {
        vs_match_pair pair[20];
        size_t count = pairs_of(&view, pair, 20), wrong = random_index(&r, count), other;
        do {
            other = random_index(&r, count);
        } while (hypot(pair[wrong].x_px - pair[other].x_px, pair[wrong].y_px - pair[other].y_px) <
                 60);
        pair[wrong].x_px = pair[other].x_px + 7; /* one corner mistaken for another */
        pair[wrong].y_px = pair[other].y_px - 5;
        vs_match_ask ask = ask_of(pair, count);
        vs_match m;
        CHECK_OK(vs_camera_match(&ask, &m));
        CHECK_TRUE(m.outcome == VS_MATCH_FOUND);
        CHECK_TRUE(!m.used[wrong] && m.used_count == count - 1);
        CHECK_NEAR(m.pose.at_m.x, at.x, 0, 1e-4);
        CHECK_TRUE(m.off_px[wrong] > 30);
    }
}

static vs_match_outcome outcome_of(const vs_match_pair *pair, size_t count, double focal_px,
                                   vs_match *m) {
    vs_match_ask ask = ask_of(pair, count);
    ask.focal_px = focal_px;
    CHECK_OK(vs_camera_match(&ask, m));
    return m->outcome;
}

static void pairs_that_tell_no_camera(void **state) {
    (void)state;
    vs_vec3 at = {4, 2.5, 1.6}, aim = {9, 2.5, 1.6};
    vs_view view = view_of(at, aim, FOCAL, 0);
    vs_match m;
    vs_match_pair wall[4], line[5], near[4], pair[20];
    const vs_vec3 of_wall[4] = {{9, 1.9, 0.2}, {9, 2.9, 0.2}, {9, 1.9, 2.1}, {9, 2.9, 2.1}};
    for (size_t i = 0; i < 4; i++) { /* a doorway, seen frontally: only the ratio is known */
        wall[i].at_m = of_wall[i];
        CHECK_TRUE(pixel_of(&view, of_wall[i], 0, &wall[i].x_px, &wall[i].y_px));
    }
    CHECK_TRUE(outcome_of(wall, 4, NAN, &m) == VS_MATCH_LOOSE_SQUARE);
    CHECK_TRUE(outcome_of(wall, 4, FOCAL, &m) == VS_MATCH_FOUND); /* the focal length helps */
    CHECK_NEAR(m.pose.at_m.x, 4, 0, 1e-4);
    CHECK_TRUE(outcome_of(wall, 3, NAN, &m) == VS_MATCH_TOO_FEW);
    CHECK_TRUE(outcome_of(wall, 2, FOCAL, &m) == VS_MATCH_TOO_FEW);
    for (size_t i = 0; i < 5; i++) {
        vs_vec3 p = {9, 1 + 0.5 * (double)i, 1};
        line[i].at_m = p;
        CHECK_TRUE(pixel_of(&view, p, 0, &line[i].x_px, &line[i].y_px));
    }
    CHECK_TRUE(outcome_of(line, 5, NAN, &m) == VS_MATCH_IN_A_LINE);
    for (size_t i = 0; i < 4; i++) {
        near[i] = wall[i];
        near[i].x_px = 1900 + 0.05 * wall[i].x_px;
        near[i].y_px = 500 + 0.05 * wall[i].y_px;
    }
    CHECK_TRUE(outcome_of(near, 4, NAN, &m) == VS_MATCH_CLOSE);
    wall[2] = wall[1];
    CHECK_TRUE(outcome_of(wall, 4, NAN, &m) == VS_MATCH_TWICE);
    CHECK_TRUE(m.culprit == 1 && m.other == 2);
    /* places shuffled: no camera sees them like this */
    vs_vec3 from = {0.6, 2.4, 1.5}, to = {9, 2.6, 1.3};
    view = view_of(from, to, FOCAL, 0);
    size_t count = pairs_of(&view, pair, 20);
    vs_vec3 first = pair[0].at_m;
    for (size_t i = 0; i + 1 < count; i++) {
        pair[i].at_m = pair[i + 1].at_m;
    }
    pair[count - 1].at_m = first;
    vs_match_outcome mixed = outcome_of(pair, count, NAN, &m);
    print_message("places dealt out anew: outcome %d\n", (int)mixed);
    CHECK_TRUE(mixed == VS_MATCH_APART || mixed == VS_MATCH_NO_FIT || mixed == VS_MATCH_IMPOSSIBLE);
    pair[0].x_px = NAN;
    vs_match_ask ask = ask_of(pair, count);
    CHECK_STATUS(vs_camera_match(&ask, &m), VS_ERR_DOMAIN);
}

/* Three pairs leave up to four places: the one nearest to the hint is taken, the others are
 * reported. */
static void three_pairs_and_a_hint(void **state) {
    (void)state;
    random_stream r = {8};
    int several = 0;
    for (int round = 0; round < 100; round++) {
        vs_vec3 at = {random_uniform(&r, 0.5, 3), random_uniform(&r, 1, 4),
                      random_uniform(&r, 1, 2)};
        vs_vec3 aim = {9, 2.5, 1.4};
        vs_view view = view_of(at, aim, FOCAL, 0);
        vs_match_pair pair[20];
        size_t count = pairs_of(&view, pair, 20);
        CHECK_TRUE(count >= 5);
        pair[2] = pair[count - 1];
        vs_match_ask ask = ask_of(pair, 3);
        ask.focal_px = FOCAL;
        ask.near_m = at;
        ask.possible = NULL;
        vs_match m;
        CHECK_OK(vs_camera_match(&ask, &m));
        if (m.outcome == VS_MATCH_LOOSE || m.outcome == VS_MATCH_LOOSE_SQUARE) {
            continue; /* near the cylinder of danger */
        }
        CHECK_TRUE(m.outcome == VS_MATCH_FOUND);
        CHECK_NEAR(m.pose.at_m.x, at.x, 0, 1e-3);
        CHECK_NEAR(m.pose.at_m.z, at.z, 0, 1e-3);
        several += m.other_count > 0;
    }
    CHECK_TRUE(several > 0);
}

/* Roll turns the view about its axis: the right side goes up. */
static void roll_is_counter_clockwise(void **state) {
    (void)state;
    vs_vec3 at = {0, 0, 1}, aim = {5, 0, 1};
    vs_view view = view_of(at, aim, 1000, 10 * VS_RAD_PER_DEG);
    CHECK_NEAR(view.right.z, sin(10 * VS_RAD_PER_DEG), 1e-12, 0);
    CHECK_NEAR(view.up.z, cos(10 * VS_RAD_PER_DEG), 1e-12, 0);
    CHECK_NEAR(vs_vec3_dot(view.right, view.up), 0, 0, 1e-15);
    CHECK_NEAR(vs_vec3_dot(vs_vec3_cross(view.right, view.up), view.forward), -1, 1e-12, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(roots_put_back),
        cmocka_unit_test(a_camera_is_found_again),
        cmocka_unit_test(goes_with_a_linear_solution),
        cmocka_unit_test(noise_of_a_pixel),
        cmocka_unit_test(wrong_pairs_are_left_out),
        cmocka_unit_test(pairs_that_tell_no_camera),
        cmocka_unit_test(three_pairs_and_a_hint),
        cmocka_unit_test(roll_is_counter_clockwise),
    };
    return RUN_TESTS(tests);
}
