/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Form factors against Howell's catalogue and against each other. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/units.h"
#include "veilstop/light/form_factor.h"
#include "veilstop/light/surfaces.h"

static double area_m2(const vs_rect *r) {
    return 4 * r->half_u_m * r->half_v_m;
}

static double factor_between_faces(vs_vec3 size, int from, int to) {
    vs_box box = {{0, 0, 0}, size};
    vs_rect a = vs_surfaces_face(&box, from), b = vs_surfaces_face(&box, to);
    return vs_form_factor_area_m2(&a, &b) / area_m2(&a);
}

/* Siegel & Howell, worked for Howell's C-11 (equal opposed rectangles) and C-14 (common edge). */
static void howells_values(void **state) {
    (void)state;
    const vs_vec3 worked = {1, 1.5, 0.5}, cube = {1, 1, 1};
    CHECK_PRINTED(factor_between_faces(worked, 4, 5), 0.4756, 1e-4);
    CHECK_PRINTED(factor_between_faces(cube, 0, 1), 0.1998, 1e-4);
    CHECK_PRINTED(factor_between_faces(cube, 0, 2), 0.2000, 1e-4);
}

/* From each face of any box the five others fill the whole view. */
static void views_of_a_box_close(void **state) {
    (void)state;
    random_stream r = {41};
    double worst = 0;
    for (int n = 0; n < 200; n++) {
        vs_vec3 size = {random_log_uniform(&r, 0.2, 30), random_log_uniform(&r, 0.2, 30),
                        random_log_uniform(&r, 0.2, 30)};
        for (int from = 0; from < 6; from++) {
            double sum = 0;
            for (int to = 0; to < 6; to++) {
                sum += to == from ? 0 : factor_between_faces(size, from, to);
            }
            CHECK_NEAR(sum, 1, 1e-9, 0);
            worst = fmax(worst, fabs(sum - 1));
        }
    }
    printf("measured: views from the faces of 200 boxes sum to 1 within %.1e\n", worst);
}

/* Pieces of two faces, wherever they lie, sum to the whole; each equals a fine sum of points. */
static void pieces_sum_to_the_whole(void **state) {
    (void)state;
    vs_box box = {{0, 0, 0}, {3, 2, 1.5}};
    for (int to = 1; to < 6; to++) {
        vs_rect a = vs_surfaces_face(&box, 0), b = vs_surfaces_face(&box, to);
        vs_rect left = b, right = b;
        left.half_u_m *= 0.3;
        left.center_m = vs_vec3_along(b.center_m, b.u, -0.7 * b.half_u_m);
        right.half_u_m *= 0.7;
        right.center_m = vs_vec3_along(b.center_m, b.u, 0.3 * b.half_u_m);
        double whole = vs_form_factor_area_m2(&a, &b);
        CHECK_NEAR(vs_form_factor_area_m2(&a, &left) + vs_form_factor_area_m2(&a, &right), whole,
                   1e-10, 0);
        double sum = 0;
        const int n = 40;
        for (int i = 0; i < n * n; i++) {
            vs_vec3 p = vs_vec3_along(a.center_m, a.u, ((i % n + 0.5) / n * 2 - 1) * a.half_u_m);
            p = vs_vec3_along(p, a.v, ((i / n + 0.5) / n * 2 - 1) * a.half_v_m);
            sum += vs_form_factor_from_point(p, a.normal, &left) / (n * n);
        }
        CHECK_NEAR(sum * area_m2(&a), vs_form_factor_area_m2(&a, &left), 2e-3, 0);
    }
}

/* Element under the corner of a 1 x 1 rectangle at 1, and under the middle of a 2 x 2. */
static void elements_and_rectangles(void **state) {
    (void)state;
    const vs_vec3 origin = {0, 0, 0}, up = {0, 0, 1}, above = {0.5, 0.5, 1}, middle = {0, 0, 1};
    vs_vec3 below = {0.5, 0.5, 0};
    vs_rect unit = vs_rect_facing(above, below, 1, 1);
    CHECK_PRINTED(vs_form_factor_from_point(origin, up, &unit), 0.138532, 1e-6);
    vs_rect two = vs_rect_facing(middle, origin, 2, 2);
    CHECK_PRINTED(vs_form_factor_from_point(origin, up, &two), 0.554126, 1e-6);
    /* seen edge on by a wall: half of it is cut off, the rest as the closed form of B-4 */
    const vs_vec3 east = {1, 0, 0};
    double a = 1, b = 1, c = 1; /* element at the corner, square to a 1 x 1 at distance c */
    double want =
        (atan(b / c) - c / sqrt(a * a + c * c) * atan(b / sqrt(a * a + c * c))) / (2 * VS_PI);
    CHECK_NEAR(vs_form_factor_from_point(origin, east, &unit), want, 1e-12, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(howells_values),
        cmocka_unit_test(views_of_a_box_close),
        cmocka_unit_test(pieces_sum_to_the_whole),
        cmocka_unit_test(elements_and_rectangles),
    };
    return RUN_TESTS(tests);
}
