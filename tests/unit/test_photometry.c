/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measured lamps: stated lumens, beam and field angles, symmetries, frames, breaks on a ray. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "veilstop/base/quadrature.h"
#include "veilstop/base/units.h"
#include "veilstop/light/photometry.h"

#define DEG VS_RAD_PER_DEG

/* 0 to 90 step 2.5, one plane: a laboratory's table with 531.98 lm stated (its file is
 * tests/reference/lm63_rotational.ies); its beam 2 x 43.558 and field 2 x 68.964 degrees by linear
 * interpolation, worked by hand. */
static const double downlight[] = {269, 268, 266, 264, 260, 256, 251, 245, 237, 229, 221, 211, 200,
                                   189, 177, 165, 152, 140, 127, 114, 102, 90,  79,  68,  58,  48,
                                   39,  31,  24,  17,  12,  8,   6,   4,   3,   1,   0};
#define STEPS 37
static double step_rad[STEPS];
static const double zero_rad[1];

static vs_photometric_table published(void) {
    for (int i = 0; i < STEPS; i++) {
        step_rad[i] = 2.5 * i * DEG;
    }
    return (vs_photometric_table){STEPS, 1, step_rad, zero_rad, downlight};
}

static void published_lumens_beam_and_field(void **state) {
    (void)state;
    vs_photometric_table t = published();
    CHECK_OK(vs_photometric_check(&t));
    double lumens = vs_photometric_lumens(&t);
    double beam = vs_photometric_spread_rad(&t, 0.5, 0) / DEG;
    double field = vs_photometric_spread_rad(&t, 0.1, 1.234) / DEG;
    CHECK_PRINTED(lumens, 531.98, 0.01);
    CHECK_PRINTED(beam / 2, 43.558, 0.001);
    CHECK_PRINTED(field / 2, 68.964, 0.001);
    CHECK_TRUE(vs_photometric_peak_candela(&t) == 269);
    printf("measured: published table: %.3f lm (stated 531.98), beam 2 x %.3f deg (43.558), field "
           "2 x %.3f deg (68.964)\n",
           lumens, beam / 2, field / 2);
}

static double ring_integrand(double v, void *context) {
    const vs_photometric_table *t = context;
    return 2 * VS_PI * vs_photometric_candela_at(t, v, 0) * sin(v);
}

/* The usual zonal sum against the integral of the actual intensity. */
static void zonal_lumens_are_near_the_integral(void **state) {
    (void)state;
    vs_photometric_table t = published();
    vs_quadrature q;
    CHECK_OK(vs_quadrature_init(&q, 500));
    double sum = 0, part;
    for (int i = 1; i < STEPS; i++) {
        CHECK_OK(vs_quadrature_adaptive(&q, ring_integrand, &t, step_rad[i - 1], step_rad[i], 1e-12,
                                        1e-14, &part, NULL));
        sum += part;
    }
    vs_quadrature_free(&q);
    double off = vs_photometric_lumens(&t) / sum - 1;
    CHECK_NEAR(off, 0, 0, 1e-3);
    printf("measured: zonal lumens against the integral of the table: %.1e\n", off);
}

/* A table of any symmetry with random steps; the arrays are the caller's. */
#define MOST 12
typedef struct {
    double v[MOST], h[MOST], cd[MOST * MOST];
    vs_photometric_table table;
} grid;

static void fill(grid *g, random_stream *r, double last_h, double first_v, double last_v) {
    size_t nv = 2 + random_index(r, MOST - 1), nh = last_h > 0 ? 2 + random_index(r, MOST - 1) : 1;
    double sum = 0;
    for (size_t i = 0; i < nv; i++) {
        g->v[i] = sum;
        sum += random_uniform(r, 0.1, 1);
    }
    for (size_t i = 0; i < nv; i++) {
        g->v[i] = first_v + (last_v - first_v) * g->v[i] / g->v[nv - 1];
    }
    sum = 0;
    for (size_t i = 0; i < nh; i++) {
        g->h[i] = sum;
        sum += random_uniform(r, 0.1, 1);
    }
    for (size_t i = 1; i < nh; i++) {
        g->h[i] = i + 1 == nh ? last_h : last_h * g->h[i] / g->h[nh - 1];
    }
    for (size_t i = 0; i < nv * nh; i++) {
        g->cd[i] = random_uniform(r, 0, 1000);
    }
    g->table = (vs_photometric_table){nv, nh, g->v, g->h, g->cd};
}

static const double symmetry_end[] = {0, VS_PI / 2, VS_PI, 2 * VS_PI};

static void grid_points_and_middles_are_exact(void **state) {
    (void)state;
    random_stream r = {7};
    for (int k = 0; k < 400; k++) {
        grid g;
        fill(&g, &r, symmetry_end[k % 4], 0, VS_PI);
        const vs_photometric_table *t = &g.table;
        CHECK_OK(vs_photometric_check(t));
        size_t v = random_index(&r, t->vertical_count - 1);
        size_t h = t->horizontal_count > 1 ? random_index(&r, t->horizontal_count - 1) : 0;
        size_t next = t->horizontal_count > 1 ? h + 1 : h;
        const double *a = g.cd + h * t->vertical_count + v;
        const double *b = g.cd + next * t->vertical_count + v;
        CHECK_NEAR(vs_photometric_candela_at(t, g.v[v], g.h[h]), a[0], 1e-12, 1e-9);
        CHECK_NEAR(vs_photometric_candela_at(t, g.v[v + 1], g.h[next]), b[1], 1e-12, 1e-9);
        double middle =
            vs_photometric_candela_at(t, (g.v[v] + g.v[v + 1]) / 2, (g.h[h] + g.h[next]) / 2);
        CHECK_NEAR(middle, (a[0] + a[1] + b[0] + b[1]) / 4, 1e-12, 1e-9);
    }
}

/* LM-63: the symmetry implied by each last horizontal angle. */
static void symmetries_hold(void **state) {
    (void)state;
    random_stream r = {11};
    for (int k = 0; k < 2000; k++) {
        grid g;
        fill(&g, &r, symmetry_end[k % 4], 0, VS_PI);
        const vs_photometric_table *t = &g.table;
        double v = random_uniform(&r, 0, VS_PI), h = random_uniform(&r, 0, 2 * VS_PI);
        double cd = vs_photometric_candela_at(t, v, h);
        CHECK_NEAR(vs_photometric_candela_at(t, v, h - 2 * VS_PI), cd, 1e-9, 1e-9);
        CHECK_NEAR(vs_photometric_candela_at(t, v, h + 6 * VS_PI), cd, 1e-9, 1e-9);
        if (k % 4 == 0) {
            CHECK_NEAR(vs_photometric_candela_at(t, v, h + 1), cd, 1e-12, 0);
        }
        if (k % 4 == 1) {
            CHECK_NEAR(vs_photometric_candela_at(t, v, VS_PI - h), cd, 1e-9, 1e-9);
        }
        if (k % 4 == 1 || k % 4 == 2) {
            CHECK_NEAR(vs_photometric_candela_at(t, v, -h), cd, 1e-9, 1e-9);
        }
    }
}

static void outside_the_vertical_angles_is_dark(void **state) {
    (void)state;
    random_stream r = {13};
    grid g;
    fill(&g, &r, VS_PI, 0, VS_PI / 2);
    CHECK_TRUE(vs_photometric_candela_at(&g.table, VS_PI / 2, 1) > 0);
    CHECK_TRUE(vs_photometric_candela_at(&g.table, VS_PI / 2 + 1e-6, 1) == 0);
    fill(&g, &r, VS_PI, VS_PI / 2, VS_PI);
    CHECK_TRUE(vs_photometric_candela_at(&g.table, VS_PI / 2, 1) > 0);
    CHECK_TRUE(vs_photometric_candela_at(&g.table, VS_PI / 2 - 1e-6, 1) == 0);
    CHECK_NAN(vs_photometric_candela_at(&g.table, (double)NAN, 1));
    CHECK_NAN(vs_photometric_candela_at(&g.table, 2, (double)NAN));
}

/* Closed forms: an even lamp sends 4 pi I, and a spread of the whole circle; a zonal sum of I cos
 * over a hemisphere is pi I but for (step^2)/12. */
static void even_and_lambertian_lamps(void **state) {
    (void)state;
    double v[91], even[91], cosine[91];
    for (int i = 0; i < 91; i++) {
        v[i] = 2 * i * DEG;
        even[i] = 40;
        cosine[i] = i <= 45 ? 40 * cos(v[i]) : 0;
    }
    vs_photometric_table t = {91, 1, v, zero_rad, even};
    CHECK_NEAR(vs_photometric_lumens(&t), 4 * VS_PI * 40, 1e-14, 0);
    CHECK_NEAR(vs_photometric_spread_rad(&t, 0.5, 0), 2 * VS_PI, 1e-12, 0);
    t.candela = cosine;
    CHECK_NEAR(vs_photometric_lumens(&t), VS_PI * 40, 2e-4, 0);
    /* half of a cosine at 60 degrees, a tenth at 84.26 */
    CHECK_NEAR(vs_photometric_spread_rad(&t, 0.5, 0) / DEG, 120, 1e-9, 0);
    CHECK_NEAR(vs_photometric_spread_rad(&t, 0.1, 0) / DEG, 2 * acos(0.1) / DEG, 1e-4, 0);
    CHECK_NAN(vs_photometric_spread_rad(&t, 0, 0));
    CHECK_NAN(vs_photometric_spread_rad(&t, 1, 0));
}

/* An asymmetric lamp: each half-plane has its own reach. */
static void spread_sums_the_two_half_planes(void **state) {
    (void)state;
    const double v[] = {0, 30 * DEG, 60 * DEG, 90 * DEG}, h[] = {0, VS_PI};
    const double cd[] = {100, 100, 20, 0, 100, 40, 0, 0};
    vs_photometric_table t = {4, 2, v, h, cd};
    CHECK_OK(vs_photometric_check(&t));
    /* half: 30 + 30 x 50/80 to one side, 30 x 50/60 to the other */
    CHECK_NEAR(vs_photometric_spread_rad(&t, 0.5, 0) / DEG, 48.75 + 25, 1e-12, 0);
    CHECK_NEAR(vs_photometric_spread_rad(&t, 0.5, VS_PI) / DEG, 48.75 + 25, 1e-12, 0);
}

static vs_vec3 random_direction(random_stream *r) {
    double z = random_uniform(r, -1, 1), turn = random_uniform(r, 0, 2 * VS_PI);
    double across = sqrt(1 - z * z);
    return (vs_vec3){across * cos(turn), across * sin(turn), z};
}

static void check_vector(vs_vec3 got, double x, double y, double z) {
    CHECK_NEAR(got.x, x, 0, 1e-14);
    CHECK_NEAR(got.y, y, 0, 1e-14);
    CHECK_NEAR(got.z, z, 0, 1e-14);
}

static void frames_of_plain_aims(void **state) {
    (void)state;
    vs_vec3 at = {1, 2, 3};
    /* down: as the lamp hung in the laboratory, seen on a plan with north up */
    vs_photometric_frame f = vs_photometric_frame_make(at, (vs_vec3){1, 2, 0}, 0);
    check_vector(f.nadir, 0, 0, -1);
    check_vector(f.c0, 1, 0, 0);
    check_vector(f.c90, 0, 1, 0);
    /* east: to the right of who looks along it is south, above is up */
    f = vs_photometric_frame_make(at, (vs_vec3){9, 2, 3}, 0);
    check_vector(f.c0, 0, -1, 0);
    check_vector(f.c90, 0, 0, 1);
    /* a quarter turn counter-clockwise seen from behind: what was to the right is above */
    f = vs_photometric_frame_make(at, (vs_vec3){9, 2, 3}, VS_PI / 2);
    check_vector(f.c0, 0, 0, 1);
    check_vector(f.c90, 0, 1, 0);
    f = vs_photometric_frame_make(at, (vs_vec3){1, 2, 7}, 0);
    check_vector(f.nadir, 0, 0, 1);
    check_vector(f.c0, 1, 0, 0);
}

static void frames_are_orthonormal_and_read_back(void **state) {
    (void)state;
    random_stream r = {17};
    grid g;
    for (int k = 0; k < 3000; k++) {
        vs_vec3 at = {1, 2, 3}, aim = vs_vec3_along(at, random_direction(&r), 2);
        if (k % 10 == 0) { /* near the vertical, where c0 is different */
            aim = (vs_vec3){1 + random_uniform(&r, -0.1, 0.1), 2, k % 20 ? 0 : 6};
        }
        vs_photometric_frame f =
            vs_photometric_frame_make(at, aim, random_uniform(&r, -VS_PI, VS_PI));
        CHECK_NEAR(vs_vec3_length(f.nadir), 1, 1e-14, 0);
        CHECK_NEAR(vs_vec3_length(f.c0), 1, 1e-14, 0);
        CHECK_NEAR(vs_vec3_length(f.c90), 1, 1e-14, 0);
        CHECK_NEAR(vs_vec3_dot(f.c0, f.c90), 0, 0, 1e-14);
        vs_vec3 away = vs_vec3_cross(f.c0, f.c90);
        CHECK_NEAR(vs_vec3_dot(away, f.nadir), -1, 1e-14, 0);

        if (k % 50 == 0) {
            fill(&g, &r, symmetry_end[random_index(&r, 4)], 0, VS_PI);
        }
        double v = random_uniform(&r, 0, VS_PI), h = random_uniform(&r, 0, 2 * VS_PI);
        vs_vec3 d = vs_vec3_scale(f.nadir, cos(v));
        d = vs_vec3_along(d, f.c0, sin(v) * cos(h));
        d = vs_vec3_along(d, f.c90, sin(v) * sin(h));
        CHECK_NEAR(vs_photometric_candela(&g.table, &f, vs_vec3_scale(d, 3)),
                   vs_photometric_candela_at(&g.table, v, h), 1e-9, 1e-9);
    }
    vs_photometric_frame none =
        vs_photometric_frame_make((vs_vec3){1, 1, 1}, (vs_vec3){1, 1, 1}, 0);
    CHECK_NAN(none.nadir.x);
    CHECK_NAN(vs_photometric_candela(&g.table, &none, (vs_vec3){0, 0, 1}));
}

/* The cell of the table that contains a direction; mirrored ones are distinct. */
static long cell_of(const vs_photometric_table *t, const vs_photometric_frame *f, vs_vec3 d) {
    double z = vs_vec3_dot(d, f->nadir) / vs_vec3_length(d);
    double h = atan2(vs_vec3_dot(d, f->c90), vs_vec3_dot(d, f->c0));
    h = h < 0 ? h + 2 * VS_PI : h;
    double end = t->horizontal_rad[t->horizontal_count - 1];
    long cell = 0;
    for (size_t i = 0; i < t->vertical_count; i++) {
        cell += acos(fmin(1, fmax(-1, z))) > t->vertical_rad[i];
    }
    for (size_t i = 0; i < t->horizontal_count && end > 0; i++) {
        for (double turn = 0; turn < 6.2; turn += end < 2 ? VS_PI : 2 * VS_PI) {
            double one = fmod(turn + t->horizontal_rad[i], 2 * VS_PI);
            double mirror = fmod(turn + 2 * VS_PI - t->horizontal_rad[i], 2 * VS_PI);
            cell += 100 * (h > one) + (end < 6 ? 10000 * (h > mirror) : 0);
        }
    }
    return cell;
}

/* There is a break wherever a ray goes from one cell of the table to another, and nowhere else. */
static void breaks_are_where_cells_change(void **state) {
    (void)state;
    random_stream r = {19};
    size_t found = 0, changes = 0;
    for (int k = 0; k < 200; k++) {
        grid g;
        fill(&g, &r, symmetry_end[k % 4], k % 3 ? 0 : VS_PI / 2, k % 5 ? VS_PI : VS_PI / 2);
        if (g.v[0] == g.v[1]) {
            continue;
        }
        const vs_photometric_table *t = &g.table;
        vs_photometric_frame f =
            vs_photometric_frame_make((vs_vec3){0, 0, 0}, random_direction(&r), 0.3);
        vs_vec3 o = vs_vec3_scale(random_direction(&r), random_log_uniform(&r, 0.1, 10));
        vs_vec3 d = random_direction(&r);
        double length = random_log_uniform(&r, 1, 30), at[4 * MOST];
        CHECK_TRUE(vs_photometric_breaks_most(t) <= 4 * MOST);
        size_t count = vs_photometric_breaks(t, &f, o, d, length, at, 4 * MOST);
        CHECK_TRUE(count <= vs_photometric_breaks_most(t));
        size_t next = 0, samples = 4000;
        long before = cell_of(t, &f, vs_vec3_along(o, d, 1e-9));
        for (size_t i = 1; i <= samples; i++) {
            double s = length * (double)i / (double)samples - 1e-9;
            long cell = cell_of(t, &f, vs_vec3_along(o, d, s));
            bool passed = false;
            for (; next < count && at[next] <= s; next++) {
                CHECK_TRUE(at[next] > 0 && (next == 0 || at[next] >= at[next - 1]));
                passed = true;
                found++;
            }
            if (cell != before) {
                CHECK_TRUE(passed);
                changes++;
            }
            before = cell;
        }
    }
    CHECK_TRUE(changes > 500);
    printf("measured: breaks of 200 random tables and rays: %zu given, %zu steps of 1/4000 change "
           "the cell, each with its break\n",
           found, changes);
}

/* Rays along the lamp's own axes, through it and beside it, where divisors are 0. */
static void breaks_of_rays_along_the_axes(void **state) {
    (void)state;
    random_stream r = {23};
    const vs_vec3 axis[] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0, 0, -1}, {0, 0, 0}};
    for (int k = 0; k < 100; k++) {
        grid g;
        fill(&g, &r, symmetry_end[k % 4], 0, VS_PI);
        vs_photometric_frame f =
            vs_photometric_frame_make((vs_vec3){0, 0, 0}, (vs_vec3){0, 0, -1}, 0);
        double at[4 * MOST];
        vs_vec3 o = vs_vec3_scale(axis[random_index(&r, 5)], random_uniform(&r, -2, 2));
        size_t count =
            vs_photometric_breaks(&g.table, &f, o, axis[random_index(&r, 4)], 5, at, 4 * MOST);
        for (size_t i = 0; i < count; i++) {
            CHECK_TRUE(at[i] > 0 && at[i] < 5);
        }
        CHECK_TRUE(vs_photometric_breaks(&g.table, &f, o, axis[0], 5, at, 1) <= 1);
    }
}

static void what_is_no_table_is_refused(void **state) {
    (void)state;
    double v[] = {0, 1, VS_PI}, h[] = {0, VS_PI}, cd[] = {1, 2, 3, 4, 5, 6};
    vs_photometric_table t = {3, 2, v, h, cd};
    CHECK_OK(vs_photometric_check(&t));
    cd[4] = -1;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    cd[4] = (double)NAN;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    cd[4] = 5;
    h[1] = 3;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    h[1] = VS_PI;
    v[1] = 0;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    v[1] = (double)NAN;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    v[1] = 1;
    v[2] = 3.2;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    v[2] = 3;
    t.vertical_count = 1;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
    t.vertical_count = 3;
    t.candela = NULL;
    CHECK_STATUS(vs_photometric_check(&t), VS_ERR_DOMAIN);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_lumens_beam_and_field),
        cmocka_unit_test(zonal_lumens_are_near_the_integral),
        cmocka_unit_test(grid_points_and_middles_are_exact),
        cmocka_unit_test(symmetries_hold),
        cmocka_unit_test(outside_the_vertical_angles_is_dark),
        cmocka_unit_test(even_and_lambertian_lamps),
        cmocka_unit_test(spread_sums_the_two_half_planes),
        cmocka_unit_test(frames_of_plain_aims),
        cmocka_unit_test(frames_are_orthonormal_and_read_back),
        cmocka_unit_test(breaks_are_where_cells_change),
        cmocka_unit_test(breaks_of_rays_along_the_axes),
        cmocka_unit_test(what_is_no_table_is_refused),
    };
    return RUN_TESTS(tests);
}
