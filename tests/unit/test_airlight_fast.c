/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fast veil integral against the adaptive one, and against closed forms where that is no
 * reference. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "rays.h"
#include "spread.h"
#include "veilstop/light/airlight_fast.h"

#define RAYS_A_KIND  70
#define WORST        5e-3 /* [1] bound on the fast integral's error */
#define MEDIAN       2e-4
#define DARK_OF_GREY 1e-6 /* veils under this share of grey do not count */

typedef struct {
    vs_airlight work;
    ray_hazes hazes;
} bench_top;

static void set_up(bench_top *top) {
    CHECK_OK(vs_airlight_init(&top->work));
    ray_hazes_make(&top->hazes);
}

static void tear_down(bench_top *top) {
    ray_hazes_free(&top->hazes);
    vs_airlight_free(&top->work);
}

/* Error of the fast integral on a line; negative if the veil is too dark to count. */
static double error_of(bench_top *top, const ray_case *c, size_t line) {
    vs_bands fast, want;
    double relative = ray_kind_is_surface(c->kind) ? 1e-4 : c->mie ? 1e-7 : 1e-9;
    const vs_camera_ray *sight = &c->sight[line];
    CHECK_OK(vs_airlight_fast(&top->work, &c->room.medium, sight, &c->emitter, &fast));
    CHECK_OK(
        vs_airlight_adaptive(&top->work, &c->room.medium, sight, &c->emitter, relative, &want));
    double nits = vs_bands_luminance(want), error = 0;
    CHECK_TRUE(vs_bands_luminance(fast) >= 0);
    if (!(nits > DARK_OF_GREY * RAY_GREY_NITS)) {
        CHECK_TRUE(vs_bands_luminance(fast) <= 2 * DARK_OF_GREY * RAY_GREY_NITS);
        return -1;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        error = fmax(error, fabs(fast.v[band] / want.v[band] - 1));
    }
    return error;
}

/* A sample of what `make accuracy` runs in full, with the same bounds. */
static void fast_matches_adaptive(void **state) {
    (void)state;
    static bench_top top;
    static ray_case c;
    static double error[RAY_KINDS * RAYS_A_KIND];
    size_t count = 0;
    set_up(&top);
    for (int kind = 0; kind < RAY_KINDS; kind++) {
        random_stream r = {1000 + (uint64_t)kind};
        for (int i = 0; i < RAYS_A_KIND; i++) {
            ray_case_make(&c, &r, (ray_kind)kind, &top.hazes, 1);
            double e = error_of(&top, &c, 0);
            if (e >= WORST) {
                print_error("%s, case %d\n", ray_kind_name((ray_kind)kind), i);
            }
            CHECK_TRUE(e < WORST);
            if (e >= 0) {
                error[count++] = e;
            }
        }
    }
    double median = spread_quantile(error, count, 0.5), worst = spread_quantile(error, count, 1);
    CHECK_TRUE(median <= MEDIAN);
    printf("measured: fast veil against adaptive, %zu random rays lit of %d: median %.1e, worst "
           "%.1e\n",
           count, RAY_KINDS * RAYS_A_KIND, median, worst);
    tear_down(&top);
}

/* Lines on which a hidden surface comes into sight so steeply that few nodes see too little of it:
 * the ones among 1200 random lines where leaving it at that costs most, 0.1 to 0.2 %. */
static void steep_hidden_surfaces_get_more_nodes(void **state) {
    (void)state;
    static const struct {
        ray_kind kind;
        int number;
    } line[] = {{RAY_PANEL, 40}, {RAY_PANEL, 366}, {RAY_FED, 90},
                {RAY_TUBE, 74},  {RAY_TUBE, 159},  {RAY_TUBE, 342}};
    static bench_top top;
    static ray_case c;
    double worst = 0;
    set_up(&top);
    for (size_t k = 0; k < sizeof line / sizeof line[0]; k++) {
        random_stream r = {7000 + (uint64_t)line[k].kind};
        for (int i = 0; i <= line[k].number; i++) {
            ray_case_make(&c, &r, line[k].kind, &top.hazes, 1);
        }
        double e = error_of(&top, &c, 0);
        CHECK_TRUE(e >= 0 && e < 6e-4);
        worst = fmax(worst, e);
    }
    printf("measured: steep hidden surfaces, 6 lines: worst %.1e\n", worst);
    tear_down(&top);
}

/* The cost: few nodes suffice. 300 random lines for each kind of surface, past blockers or through
 * openings. */
static void hidden_surfaces_take_few_nodes(void **state) {
    (void)state;
    static const ray_kind kind[] = {RAY_PANEL, RAY_FED, RAY_TUBE, RAY_SKY};
    static bench_top top;
    static ray_case c;
    size_t lines = 0;
    set_up(&top);
    for (size_t k = 0; k < sizeof kind / sizeof kind[0]; k++) {
        random_stream r = {9000 + (uint64_t)k};
        for (int i = 0; i < 300; i++) {
            vs_bands nits;
            ray_case_make(&c, &r, kind[k], &top.hazes, 1);
            if (c.behind) {
                lines++;
                CHECK_OK(
                    vs_airlight_fast(&top.work, &c.room.medium, &c.sight[0], &c.emitter, &nits));
            }
        }
    }
    printf("measured: hidden surfaces, %zu lines: %.0f nodes a line\n", lines,
           (double)top.work.nodes / (double)lines);
    CHECK_TRUE(lines > 400 && top.work.nodes < 400 * lines);
    tear_down(&top);
}

/* Rows of nets and flags between a line and a panel, then a lamp: over a hundred edges of light on
 * many of the lines. With the first 64 alone the worst of these lines is 3e-3 off. */
static void rows_of_nets_are_all_seen(void **state) {
    (void)state;
    enum { NETS = 64, LINES = 24 };
    static vs_blocker net[NETS];
    static bench_top top;
    const vs_vec3 low = {0, 0, 0}, high = {16, 8, 4}, camera = {0.5, 4.1, 1.5};
    random_stream r = {31};
    double worst = 0;
    room_model room;
    set_up(&top);
    room_make(&room, low, high, 0.02, 0.7);
    for (int i = 0; i < NETS; i++) {
        double x = 2 + 0.8 * (i % 16);
        vs_vec3 at = {x, 1 + 1.8 * (i / 16), 1.6}, aim = {x, i / 16 % 2 ? 0 : 8, 1.4};
        net[i] = (vs_blocker){vs_rect_facing(at, aim, 0.5, 0.8), i % 3 ? 0.6 : 0};
    }
    room.space.blocker = net;
    room.space.blocker_count = NETS;
    for (int i = 0; i < LINES; i++) {
        vs_vec3 at = {1 + 0.6 * i, i % 2 ? 0.3 : 7.7, 2.6}, aim = {1 + 0.6 * i, 4, 1.2};
        vs_vec3 to = {16, random_uniform(&r, 1, 7), random_uniform(&r, 0.3, 3)};
        vs_emitter light =
            i % 6 == 5 ? room_lamp(&room, at, 800) : room_panel(&room, at, aim, 0.3, 0.3, 2000);
        vs_camera_ray sight = vs_camera_ray_along(&room.medium, camera,
                                                  vs_vec3_unit(vs_vec3_sub(to, camera)), INFINITY);
        vs_bands fast, want;
        CHECK_OK(vs_airlight_fast(&top.work, &room.medium, &sight, &light, &fast));
        CHECK_OK(vs_airlight_adaptive(&top.work, &room.medium, &sight, &light, 3e-4, &want));
        worst = fmax(worst, fabs(fast.v[1] / want.v[1] - 1));
    }
    CHECK_TRUE(worst < 5e-4);
    printf("measured: %d lines past %d nets and flags: worst %.1e\n", LINES, NETS, worst);
    vs_haze_free(&room.haze);
    tear_down(&top);
}

/* A flag before a doorway: the light behind it begins where a corner of the one passes a side of the
 * other, with the panel's own corners still hidden. Invented. */
static void light_past_a_flag_and_a_doorway(void **state) {
    (void)state;
    static bench_top top;
    const vs_vec3 low = {0, 0, 0}, high = {9.88, 3.12, 3.8}, next = {9.88, 0, 0};
    const vs_vec3 end = {12.03, 3.12, 3.8}, sill = {9.88, 0.991, 0}, head = {9.88, 1.724, 2.1};
    const vs_vec3 at = {11.1817, 1.1726, 1.0323}, aim = {11.0905, 2.0458, 0.5535};
    const vs_vec3 flag = {9.2008, 1.5228, 1.3207}, flag_aim = {8.2110, 1.5598, 1.1833};
    const vs_vec3 camera = {4.1785, 2.2856, 2.6733}, ahead = {0.984631, -0.034285, -0.171249};
    room_model room;
    vs_bands fast, want;
    set_up(&top);
    room_make(&room, low, high, 0.0195, 0.5);
    room_add_box(&room, next, end, 0.0469);
    room_add_opening(&room, sill, head, 0, 1, 1);
    room_add_blocker(&room, vs_rect_facing(flag, flag_aim, 1.0945, 1.0289), 0);
    vs_emitter light = room_panel(&room, at, aim, 0.2041, 0.5686, 2000);
    vs_camera_ray sight =
        vs_camera_ray_along(&room.medium, camera, vs_vec3_unit(ahead), (double)INFINITY);
    sight.segment_count = 1; /* up to the doorway: beyond it is brighter by far */
    CHECK_OK(vs_airlight_fast(&top.work, &room.medium, &sight, &light, &fast));
    CHECK_OK(vs_airlight_adaptive(&top.work, &room.medium, &sight, &light, 1e-5, &want));
    CHECK_TRUE(want.v[1] > 1e-5);
    CHECK_NEAR(fast.v[1], want.v[1], 1e-3, 0);
    vs_haze_free(&room.haze);
    tear_down(&top);
}

/* The quick bound: never under the veil, and next to it where nothing is in between. */
static void no_more_than_at_most(void **state) {
    (void)state;
    static const ray_kind kind[] = {RAY_PANEL, RAY_FED, RAY_TUBE, RAY_SKY};
    static bench_top top;
    static ray_case c;
    static double over[4 * 300];
    size_t open = 0, count = 0;
    set_up(&top);
    for (size_t k = 0; k < sizeof kind / sizeof kind[0]; k++) {
        random_stream r = {9100 + (uint64_t)k};
        for (int i = 0; i < 300; i++) {
            vs_bands nits, most;
            ray_case_make(&c, &r, kind[k], &top.hazes, 1);
            CHECK_OK(vs_airlight_fast(&top.work, &c.room.medium, &c.sight[0], &c.emitter, &nits));
            CHECK_OK(
                vs_airlight_at_most(&top.work, &c.room.medium, &c.sight[0], &c.emitter, &most));
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                CHECK_TRUE(nits.v[band] <= most.v[band]);
            }
            double luminance = vs_bands_luminance(nits);
            if (luminance > 0) {
                over[count++] = vs_bands_luminance(most) / luminance;
                open += over[count - 1] < 1.03;
            }
        }
    }
    CHECK_TRUE(open > 0 && count > 600);
    printf("measured: bound of %zu veils: %zu of it within 3 %%, median %.2f times the veil\n",
           count, open, spread_quantile(over, count, 0.5));
    ray_case_make(&c, &(random_stream){1}, RAY_LAMP, &top.hazes, 1);
    vs_bands most;
    CHECK_STATUS(vs_airlight_at_most(&top.work, &c.room.medium, &c.sight[0], &c.emitter, &most),
                 VS_ERR_DOMAIN);
    CHECK_NAN(most.v[0]);
    tear_down(&top);
}

/* Many lines at once give what each gives alone. */
static void many_lines_are_as_one(void **state) {
    (void)state;
    static bench_top top;
    static ray_case c;
    static vs_bands many[RAY_LINES_MAX];
    set_up(&top);
    for (int kind = 0; kind < RAY_KINDS; kind++) {
        random_stream r = {50 + (uint64_t)kind};
        ray_case_make(&c, &r, (ray_kind)kind, &top.hazes, RAY_LINES_MAX);
        CHECK_OK(
            vs_airlight_fast_many(&top.work, &c.room.medium, &c.emitter, c.sight, c.count, many));
        for (size_t i = 0; i < c.count; i++) {
            vs_bands one;
            CHECK_OK(vs_airlight_fast(&top.work, &c.room.medium, &c.sight[i], &c.emitter, &one));
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                CHECK_NEAR(many[i].v[band], one.v[band], 2e-3, 1e-12);
            }
        }
    }
    tear_down(&top);
}

/* Several densities at once give what each gives alone, in lines and rooms made for it. */
static void densities_are_as_one(void **state) {
    (void)state;
    static const double step[VS_AIRLIGHT_STEPS_MAX] = {1, 0.2, 2.5, 4};
    static bench_top top;
    static ray_case c;
    static vs_bands many[VS_AIRLIGHT_STEPS_MAX * RAY_LINES_MAX];
    set_up(&top);
    for (int kind = 0; kind < RAY_KINDS; kind++) {
        random_stream r = {90 + (uint64_t)kind};
        vs_medium medium[VS_AIRLIGHT_STEPS_MAX];
        double room[VS_AIRLIGHT_STEPS_MAX][ROOM_MAX];
        ray_case_make(&c, &r, (ray_kind)kind, &top.hazes, RAY_LINES_MAX);
        for (size_t s = 0; s < VS_AIRLIGHT_STEPS_MAX; s++) {
            medium[s] = c.room.medium;
            medium[s].room_extinction_per_m = room[s];
            CHECK_TRUE(c.room.space.room_count <= ROOM_MAX);
            for (size_t i = 0; i < c.room.space.room_count; i++) {
                room[s][i] = c.room.medium.room_extinction_per_m[i] * step[s];
            }
        }
        CHECK_OK(vs_airlight_fast_steps(&top.work, medium, step, VS_AIRLIGHT_STEPS_MAX, &c.emitter,
                                        c.sight, c.count, many));
        for (size_t i = 0; i < c.count * VS_AIRLIGHT_STEPS_MAX; i++) {
            size_t s = i % VS_AIRLIGHT_STEPS_MAX;
            vs_camera_ray sight = c.sight[i / VS_AIRLIGHT_STEPS_MAX];
            vs_bands one;
            for (size_t k = 0; k < sight.segment_count; k++) {
                sight.segment[k].extinction_per_m *= step[s];
                sight.segment[k].depth *= step[s];
            }
            CHECK_OK(vs_airlight_fast(&top.work, &medium[s], &sight, &c.emitter, &one));
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                CHECK_NEAR(many[i].v[band], one.v[band], 2 * WORST, 1e-9);
            }
        }
    }
    CHECK_STATUS(
        vs_airlight_fast_steps(&top.work, &c.room.medium, step, 0, &c.emitter, c.sight, 1, many),
        VS_ERR_DOMAIN);
    CHECK_STATUS(vs_airlight_fast_steps(&top.work, &c.room.medium, step, VS_AIRLIGHT_STEPS_MAX + 1,
                                        &c.emitter, c.sight, 1, many),
                 VS_ERR_DOMAIN);
    tear_down(&top);
}

/* atan of uv/(z sqrt(u^2 + v^2 + z^2)): the solid angle of a rectangle with one corner at the foot
 * (Siegel & Howell; the same form as Mathar 2015, Solid angle of a rectangular plate, eq. 27). */
static double corner_angle(double u, double v, double z) {
    return atan2(u * v, z * sqrt(u * u + v * v + z * z));
}

typedef struct {
    const vs_rect *rect;
    const vs_camera_ray *sight;
} solid_angle_line;

static double solid_angle_at(double x, void *context) {
    const solid_angle_line *line = context;
    const vs_rect *r = line->rect;
    vs_vec3 d = vs_vec3_sub(vs_camera_ray_point(line->sight, x), r->center_m);
    double u = vs_vec3_dot(d, r->u), v = vs_vec3_dot(d, r->v), z = vs_vec3_dot(d, r->normal);
    if (z <= 0) {
        return 0;
    }
    double u0 = -r->half_u_m - u, u1 = r->half_u_m - u;
    double v0 = -r->half_v_m - v, v1 = r->half_v_m - v;
    return corner_angle(u1, v1, z) - corner_angle(u0, v1, z) - corner_angle(u1, v0, z) +
           corner_angle(u0, v0, z);
}

/* In thin isotropic haze the veil of a panel is s L/(4 pi) times the integral of its solid angle
 * along the line, however close the line passes, even through the panel. */
static void near_a_panel_the_solid_angle_is_the_veil(void **state) {
    (void)state;
    const double s = 1e-9, nits = 3000;
    vs_airlight work;
    vs_quadrature quadrature;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_quadrature_init(&quadrature, 4000));
    random_stream r = {27};
    double worst = 0;
    for (int i = 0; i < 300; i++) {
        room_model room;
        vs_vec3 low = {0, 0, 0}, high = {6, 5, 3};
        room_make(&room, low, high, s, 0);
        vs_vec3 at = {3, 2.5, 1.5};
        vs_vec3 aim = {random_uniform(&r, 0, 6), random_uniform(&r, 0, 5),
                       random_uniform(&r, 0, 3)};
        vs_emitter panel = room_panel(&room, at, aim, random_log_uniform(&r, 0.1, 2),
                                      random_log_uniform(&r, 0.1, 1.5), nits);
        vs_vec3 to =
            vs_vec3_along(at, panel.rect.u, random_uniform(&r, -1.2, 1.2) * panel.rect.half_u_m);
        to = vs_vec3_along(to, panel.rect.v, random_uniform(&r, -1.2, 1.2) * panel.rect.half_v_m);
        to = vs_vec3_along(to, panel.rect.normal, random_uniform(&r, 0, 0.1));
        vs_vec3 camera = {random_uniform(&r, 0.1, 5.9), random_uniform(&r, 0.1, 4.9),
                          random_uniform(&r, 0.1, 2.9)};
        vs_camera_ray sight = vs_camera_ray_along(&room.medium, camera,
                                                  vs_vec3_unit(vs_vec3_sub(to, camera)), INFINITY);
        vs_bands got;
        solid_angle_line line = {&panel.rect, &sight};
        double integral;
        CHECK_OK(vs_airlight_fast(&work, &room.medium, &sight, &panel, &got));
        CHECK_OK(vs_quadrature_adaptive(&quadrature, solid_angle_at, &line, 0, sight.length_m, 1e-8,
                                        1e-9, &integral, NULL));
        double want = s * nits / (4 * VS_PI) * integral;
        CHECK_NEAR(got.v[1], want, 2e-3, 1e-15);
        worst = fmax(worst, want > 1e-12 ? fabs(got.v[1] / want - 1) : 0);
        vs_haze_free(&room.haze);
    }
    printf("measured: lines close to and through a panel against its solid angle: worst %.1e\n",
           worst);
    vs_quadrature_free(&quadrature);
    vs_airlight_free(&work);
}

/* A bare lamp beside a line, in one room of grey haze. */
typedef struct {
    double off_m, camera_m, extinction_per_m, g;
} lamp_line;

/* The integrand over the angle v at the lamp, distance off tan v past it: phase by Henyey and
 * Greenstein 1941 x transmission of both paths; 1/r^2 and dx/dv leave 1/off. */
static double lamp_line_at(double v, void *context) {
    const lamp_line *c = context;
    double past_m = c->off_m * tan(v), way_m = c->off_m / cos(v), g = c->g;
    double phase = (1 - g * g) / (4 * VS_PI * pow(1 + g * g + 2 * g * sin(v), 1.5));
    return phase * exp(-c->extinction_per_m * (way_m + c->camera_m + past_m)) / c->off_m;
}

static double lamp_line_error(vs_airlight *work, vs_quadrature *quadrature, lamp_line c) {
    const double past_m = 6;
    room_model room;
    vs_vec3 low = {-c.camera_m - 1, -10, -10}, high = {past_m, 10, 10};
    vs_vec3 at = {0, c.off_m, 0}, camera = {-c.camera_m, 0, 0}, east = {1, 0, 0};
    room_make(&room, low, high, c.extinction_per_m, c.g);
    vs_emitter lamp = room_lamp(&room, at, 100);
    vs_camera_ray sight = vs_camera_ray_along(&room.medium, camera, east, INFINITY);
    vs_bands got;
    double want;
    CHECK_OK(vs_airlight_fast(work, &room.medium, &sight, &lamp, &got));
    CHECK_OK(vs_quadrature_adaptive(quadrature, lamp_line_at, &c, atan(-c.camera_m / c.off_m),
                                    atan(past_m / c.off_m), 1e-10, 0, &want, NULL));
    vs_haze_free(&room.haze);
    return fabs(got.v[1] / (100 * c.extinction_per_m * want) - 1);
}

/* Forward-scattering haze, from almost none to optical depth 5 over the line. */
static void a_lamp_near_a_line_is_its_integral(void **state) {
    (void)state;
    static const double off_m[] = {0.05, 0.2, 0.5, 1, 2, 4}, camera_m[] = {1, 4, 12};
    static const double extinction_per_m[] = {0.01, 0.05, 0.1, 0.2, 0.3},
                        g[] = {0.5, 0.7, 0.8, 0.9};
    enum { CASES = 6 * 3 * 5 * 4 };
    double error[CASES];
    vs_airlight work;
    vs_quadrature quadrature;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_quadrature_init(&quadrature, 4000));
    for (size_t i = 0; i < CASES; i++) {
        lamp_line c = {off_m[i % 6], camera_m[i / 6 % 3], extinction_per_m[i / 18 % 5], g[i / 90]};
        error[i] = lamp_line_error(&work, &quadrature, c);
    }
    double median = spread_quantile(error, CASES, 0.5), worst = spread_quantile(error, CASES, 1);
    printf("measured: a lamp near a line in forward haze against its integral, %d cases: median "
           "%.1e, worst %.1e\n",
           CASES, median, worst);
    CHECK_TRUE(median <= 1.3e-4 && worst <= 1.5e-3);
    vs_quadrature_free(&quadrature);
    vs_airlight_free(&work);
}

/* Whatever the geometry: finite and not negative. */
static void never_less_than_nothing(void **state) {
    (void)state;
    static bench_top top;
    static ray_case c;
    set_up(&top);
    random_stream r = {99};
    for (int i = 0; i < 300; i++) {
        ray_kind kind = (ray_kind)random_index(&r, RAY_KINDS);
        ray_case_make(&c, &r, kind, &top.hazes, 1);
        const vs_opening *door = &c.room.opening[0];
        vs_vec3 corner[4], inside = {0.5, 0.5, 0.5};
        vs_rect_corners(&door->rect, corner);
        /* through the lamp, along an opening's edge, from a wall, from the lamp itself */
        const vs_vec3 from[4] = {inside, corner[0], {0, 1, 1}, c.emitter.at_m};
        const vs_vec3 to[4] = {c.emitter.at_m, corner[1], corner[2], inside};
        for (int k = 0; k < 4; k++) {
            vs_vec3 way = vs_vec3_sub(to[k], from[k]);
            vs_bands nits;
            if (!(vs_vec3_length(way) > 1e-6)) {
                continue;
            }
            vs_camera_ray sight =
                vs_camera_ray_along(&c.room.medium, from[k], vs_vec3_unit(way), INFINITY);
            CHECK_OK(vs_airlight_fast(&top.work, &c.room.medium, &sight, &c.emitter, &nits));
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                CHECK_TRUE(nits.v[band] >= 0 && isfinite(nits.v[band]));
            }
        }
    }
    tear_down(&top);
}

/* Veils are proportional to strength, and a net in front of the camera dims them all. */
static void veil_follows_strength(void **state) {
    (void)state;
    static bench_top top;
    static ray_case c;
    set_up(&top);
    for (int kind = 0; kind < RAY_KINDS; kind++) {
        random_stream r = {400 + (uint64_t)kind};
        ray_case_make(&c, &r, (ray_kind)kind, &top.hazes, 8);
        vs_emitter half = c.emitter;
        half.strength = vs_bands_scale(half.strength, 0.5);
        for (size_t i = 0; i < c.count; i++) {
            vs_bands whole, dimmed;
            CHECK_OK(vs_airlight_fast(&top.work, &c.room.medium, &c.sight[i], &c.emitter, &whole));
            CHECK_OK(vs_airlight_fast(&top.work, &c.room.medium, &c.sight[i], &half, &dimmed));
            CHECK_NEAR(dimmed.v[0], 0.5 * whole.v[0], 1e-12, 0);
        }
    }
    tear_down(&top);
}

static void mixed_phase_functions_are_refused(void **state) {
    (void)state;
    static bench_top top;
    static ray_case c;
    set_up(&top);
    random_stream r = {5};
    ray_case_make(&c, &r, RAY_LAMP, &top.hazes, 1);
    vs_haze mixed = top.hazes.haze[0];
    mixed.phase[0] = vs_phase_henyey_greenstein(0.5);
    vs_medium medium = vs_medium_make(&c.room.space, &mixed, c.room.extinction_per_m);
    vs_bands nits;
    CHECK_STATUS(vs_airlight_fast(&top.work, &medium, &c.sight[0], &c.emitter, &nits),
                 VS_ERR_DOMAIN);
    CHECK_NAN(nits.v[0]);
    tear_down(&top);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fast_matches_adaptive),
        cmocka_unit_test(steep_hidden_surfaces_get_more_nodes),
        cmocka_unit_test(hidden_surfaces_take_few_nodes),
        cmocka_unit_test(rows_of_nets_are_all_seen),
        cmocka_unit_test(light_past_a_flag_and_a_doorway),
        cmocka_unit_test(no_more_than_at_most),
        cmocka_unit_test(many_lines_are_as_one),
        cmocka_unit_test(densities_are_as_one),
        cmocka_unit_test(near_a_panel_the_solid_angle_is_the_veil),
        cmocka_unit_test(a_lamp_near_a_line_is_its_integral),
        cmocka_unit_test(never_less_than_nothing),
        cmocka_unit_test(veil_follows_strength),
        cmocka_unit_test(mixed_phase_functions_are_refused),
    };
    return RUN_TESTS(tests);
}
