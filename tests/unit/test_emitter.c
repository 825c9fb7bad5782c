/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lamps: the meaning of strengths, the light that arrives on a surface. Against handbook factors,
 * closed forms, adaptive quadrature and plain sums. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "room.h"
#include "veilstop/light/airlight_fast.h"
#include "veilstop/light/illuminance.h"

static const vs_vec3 low = {-20, -20, -20}, high = {20, 20, 20};
static const vs_vec3 up = {0, 0, 1};

static double lux_on(const room_model *room, const vs_emitter *emitter, vs_vec3 p, vs_vec3 normal) {
    vs_airlight work;
    vs_bands lux;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_illuminance(&work.sources, &room->medium, emitter, p, normal, 1e-7, &lux));
    vs_airlight_free(&work);
    return lux.v[VS_BAND_GREEN];
}

/* docs/physics.md, "light: lamps": half at the beam angle, a tenth at the field angle, dark under a
 * thousandth. A housing shines only forward: nothing beyond a right angle (common practice, no
 * source). */
static void a_spot_is_half_and_a_tenth_where_it_says(void **state) {
    (void)state;
    random_stream r = {41};
    for (int i = 0; i < 200; i++) {
        double beam = random_log_uniform(&r, 0.03, 2), field = beam * random_uniform(&r, 1.05, 1.5);
        vs_spot spot = vs_spot_make(beam, field);
        CHECK_NEAR(vs_spot_profile(&spot, 0), 1, 0, 0);
        CHECK_NEAR(vs_spot_profile(&spot, beam / 2), 0.5, 1e-12, 0);
        CHECK_NEAR(vs_spot_profile(&spot, field / 2), 0.1, 1e-12, 0);
        CHECK_TRUE(spot.cutoff_rad <= VS_PI / 2);
        CHECK_NEAR(vs_spot_profile(&spot, VS_PI / 2 * 1.0001), 0, 0, 0);
        if (spot.cutoff_rad < VS_PI / 2) {
            CHECK_NEAR(vs_spot_profile(&spot, spot.cutoff_rad), 1e-3, 1e-9, 0);
            CHECK_NEAR(vs_spot_profile(&spot, spot.cutoff_rad * 1.0001), 0, 0, 0);
        }
    }
    vs_spot widest = vs_spot_make(3, (double)NAN); /* half of it left at 86 degrees */
    CHECK_NEAR(widest.cutoff_rad, VS_PI / 2, 1e-15, 0);
    CHECK_NEAR(vs_spot_profile(&widest, VS_PI / 2), exp2(-pow(VS_PI / 3, 2)), 1e-12, 0);
    vs_spot gaussian = vs_spot_make(0.4, (double)NAN);
    CHECK_NEAR(vs_spot_profile(&gaussian, 0.4), 0.0625, 1e-12, 0); /* half^(2^2) */
}

static double profile_times_sine(double angle_rad, void *context) {
    return vs_spot_profile(context, angle_rad) * sin(angle_rad);
}

/* 2 pi times the integral of I sin; for a narrow Gaussian, where sin a = a, it is
 * pi half^2/ln 2 (1 - 1/1000) in closed form. */
static void lumens_of_a_spot(void **state) {
    (void)state;
    vs_quadrature quadrature;
    CHECK_OK(vs_quadrature_init(&quadrature, 500));
    random_stream r = {42};
    for (int i = 0; i < 40; i++) {
        double beam = random_log_uniform(&r, 0.03, 2);
        vs_spot spot = vs_spot_make(beam, i % 2 ? beam * random_uniform(&r, 1.2, 2) : (double)NAN);
        double lumens, integral;
        CHECK_OK(vs_spot_lumens_per_candela(&spot, &lumens));
        CHECK_OK(vs_quadrature_adaptive(&quadrature, profile_times_sine, &spot, 0, spot.cutoff_rad,
                                        1e-10, 0, &integral, NULL));
        CHECK_NEAR(lumens, 2 * VS_PI * integral, 1e-6, 0);
    }
    vs_spot narrow = vs_spot_make(1e-3, (double)NAN);
    double lumens;
    CHECK_OK(vs_spot_lumens_per_candela(&narrow, &lumens));
    CHECK_NEAR(lumens, VS_PI * 0.25e-6 / log(2) * 0.999, 1e-6, 0);
    vs_quadrature_free(&quadrature);
}

static vs_emitter ready(const room_model *room, vs_light light) {
    vs_emitter emitter;
    light.on = true;
    light.dimmer = light.dimmer > 0 ? light.dimmer : 1;
    CHECK_OK(vs_emitter_init(&emitter, &light, &room->space, 5600));
    return emitter;
}

/* Lux given at a distance do arrive there, for every kind; a lamp of 4 pi lumens has 1 cd. */
static void lux_given_are_lux_measured(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0, 0);
    const vs_vec3 at = {0, 0, 2}, floor = {0, 0, 0};
    vs_light spot = {.kind = VS_LIGHT_SPOT,
                     .strength = VS_STRENGTH_LUX,
                     .value = 120,
                     .lux_at_m = 2,
                     .at_m = at,
                     .aim_m = floor,
                     .beam_rad = 0.3,
                     .field_rad = (double)NAN};
    vs_light panel = {.kind = VS_LIGHT_PANEL,
                      .strength = VS_STRENGTH_LUX,
                      .value = 75,
                      .lux_at_m = 2,
                      .at_m = at,
                      .aim_m = floor,
                      .width_m = 1.3,
                      .height_m = 0.7};
    vs_light tube = {.kind = VS_LIGHT_TUBE,
                     .strength = VS_STRENGTH_LUX,
                     .value = 33,
                     .lux_at_m = 2,
                     .at_m = {-0.6, 0, 2},
                     .aim_m = {0.6, 0, 2}};
    vs_light lamp = {
        .kind = VS_LIGHT_LAMP, .strength = VS_STRENGTH_LUMENS, .value = 4 * VS_PI, .at_m = at};
    vs_emitter e[4] = {ready(&room, spot), ready(&room, panel), ready(&room, tube),
                       ready(&room, lamp)};
    const double want[4] = {120, 75, 33, 0.25};
    for (int i = 0; i < 4; i++) {
        CHECK_NEAR(lux_on(&room, &e[i], floor, up), want[i], 1e-9, 0);
    }
    lamp.dimmer = 0.3;
    vs_emitter dimmed = ready(&room, lamp);
    CHECK_NEAR(lux_on(&room, &dimmed, floor, up), 0.3 * 0.25, 1e-12, 0);
    vs_haze_free(&room.haze);
}

/* Element under a corner of a 1 x 1 parallel rectangle at 1: F 0.138532; under the centre of 2 x 2
 * at 1: 0.554126 (Siegel & Howell, configuration factors B-3); E = pi F L. */
static void an_element_under_a_panel(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0, 0);
    const vs_vec3 at = {0, 0, 1}, down = {0, 0, 0};
    vs_emitter square = room_panel(&room, at, down, 2, 2, 1000);
    vs_emitter quarter = room_panel(&room, at, down, 1, 1, 1000);
    const vs_vec3 corner = {0.5, 0.5, 0}, centre = {0, 0, 0};
    CHECK_PRINTED(lux_on(&room, &square, centre, up) / (1000 * VS_PI), 0.554126, 1e-6);
    CHECK_PRINTED(lux_on(&room, &quarter, corner, up) / (1000 * VS_PI), 0.138532, 1e-6);
    CHECK_PRINTED(vs_rect_corner_factor(1, 1, 1), 0.138532, 1e-6);
    vs_haze_free(&room.haze);
}

/* Off the axis the same factor by corners with signs: view factors add (Siegel & Howell). */
static void an_element_beside_a_panel(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0, 0);
    random_stream r = {43};
    for (int i = 0; i < 200; i++) {
        double w = random_uniform(&r, 0.2, 2), h = random_uniform(&r, 0.2, 2);
        double z = random_log_uniform(&r, 0.05, 5);
        vs_vec3 at = {0, 0, z}, below = {0, 0, 0};
        vs_emitter panel = room_panel(&room, at, below, w, h, 700);
        vs_vec3 p = {random_uniform(&r, -2, 2), random_uniform(&r, -2, 2), 0};
        double sum = 0;
        for (int k = 0; k < 4; k++) {
            double x = (k & 1 ? 1 : -1) * w / 2 - p.x, y = (k & 2 ? 1 : -1) * h / 2 - p.y;
            double sign = (k == 0 || k == 3 ? 1 : -1) * copysign(1, x) * copysign(1, y);
            sum += sign * vs_rect_corner_factor(fabs(x), fabs(y), z);
        }
        CHECK_NEAR(lux_on(&room, &panel, p, up), 700 * VS_PI * sum, 1e-9, 1e-9);
    }
    vs_haze_free(&room.haze);
}

/* A 2 x 2 square at 1 fills 2 pi/3 sr: in thin isotropic haze a short line there has the veil
 * s L 2 pi/3/(4 pi) x its length. */
static void a_square_fills_two_thirds_of_pi(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 1e-9, 0);
    const vs_vec3 at = {0, 0, 1}, below = {0, 0, 0}, start = {-5e-4, 0, 0}, east = {1, 0, 0};
    vs_emitter square = room_panel(&room, at, below, 2, 2, 1000);
    vs_camera_ray sight = vs_camera_ray_along(&room.medium, start, east, 1e-3);
    vs_airlight work;
    vs_bands nits;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_airlight_fast(&work, &room.medium, &sight, &square, &nits));
    CHECK_NEAR(nits.v[1], 1e-9 * 1000 / 6 * 1e-3, 1e-4, 0);
    vs_airlight_free(&work);
    vs_haze_free(&room.haze);
}

/* Light that elements of a surface send to a place, by inverse square and cosines, on a grid. */
static double sum_of_elements(const room_model *room, const vs_emitter *e, vs_vec3 p,
                              vs_vec3 normal, int grid) {
    double sum = 0;
    bool line = e->kind == VS_EMITTER_LINE;
    for (int i = 0; i < grid * (line ? 1 : grid); i++) {
        double u = (2.0 * (i % grid) + 1) / grid - 1,
               v = line ? 0 : (2.0 * (i / grid) + 1) / grid - 1;
        vs_vec3 q =
            line ? vs_vec3_along(e->at_m, e->axis, (u + 1) / 2 * e->length_m)
                 : vs_vec3_along(vs_vec3_along(e->rect.center_m, e->rect.u, u * e->rect.half_u_m),
                                 e->rect.v, v * e->rect.half_v_m);
        double size =
            line ? e->length_m / grid : 4 * e->rect.half_u_m * e->rect.half_v_m / (grid * grid);
        vs_vec3 way = vs_vec3_sub(p, q);
        double r = vs_vec3_length(way), along = vs_vec3_dot(way, e->axis) / r;
        double profile = line ? sqrt(fmax(0, 1 - along * along)) : fmax(0, along);
        double cosine = fmax(0, -vs_vec3_dot(way, normal) / r);
        double open = vs_space_passage(&room->space, q, p).transmittance;
        double depth = vs_space_optical_depth(&room->space, room->extinction_per_m, q, p);
        sum += e->strength.v[1] * size * profile * cosine * open * exp(-depth) / (r * r);
    }
    return sum;
}

/* Closed forms of the parts visible past blockers and through an opening, against a plain sum. */
static void what_is_seen_of_a_surface(void **state) {
    (void)state;
    random_stream r = {44};
    double worst = 0;
    for (int i = 0; i < 60; i++) {
        room_model room;
        vs_vec3 a0 = {0, 0, 0}, a1 = {5, 4, 3}, b0 = {5, 0, 0}, b1 = {9, 4, 3};
        room_make(&room, a0, a1, random_uniform(&r, 0, 0.3), 0.5);
        room_add_box(&room, b0, b1, random_uniform(&r, 0, 0.3));
        vs_vec3 door[2] = {{5, 1, 0}, {5, 2.5, 2.2}};
        room_add_opening(&room, door[0], door[1], 0, 1, 0.8);
        bool next_door = i % 3 == 0;
        vs_vec3 at = {next_door ? random_uniform(&r, 5.8, 8) : random_uniform(&r, 1, 4),
                      random_uniform(&r, 1, 3), random_uniform(&r, 1, 2)};
        vs_vec3 aim = {0, random_uniform(&r, 0, 4), random_uniform(&r, 0, 3)};
        vs_vec3 side = vs_vec3_unit(vs_vec3_sub(aim, at));
        vs_emitter e = i % 2 ? room_panel(&room, at, aim, random_uniform(&r, 0.2, 1),
                                          random_uniform(&r, 0.2, 1), 1000)
                             : room_tube(&room, at, vs_vec3_along(at, side, 0.7), 1000);
        for (int k = 0; k < 2; k++) {
            vs_vec3 c = {random_uniform(&r, 0.5, 4), random_uniform(&r, 0.5, 3.5),
                         random_uniform(&r, 0.5, 2.5)};
            room_add_blocker(&room, vs_rect_facing(c, at, 0.8, 0.5), k ? 0.4 : 0);
        }
        vs_vec3 p = {0, random_uniform(&r, 0, 4), random_uniform(&r, 0, 3)}, normal = {1, 0, 0};
        double got = lux_on(&room, &e, p, normal);
        double want = sum_of_elements(&room, &e, p, normal, i % 2 ? 160 : 8000);
        double whole = 1000 / 4.0; /* what the sum's grid cannot tell is a share of all the light */
        CHECK_NEAR(got, want, 4e-3, 2e-5 * whole);
        worst = fmax(worst, want > 1 ? fabs(got / want - 1) : 0);
        vs_haze_free(&room.haze);
    }
    printf(
        "measured: surfaces seen past screens and through a door against plain sums: worst %.1e\n",
        worst);
}

/* Close to a large panel and to a long tube in thick haze, where the ways differ from one element to
 * the next: all of it seen, so the plain sum is fine enough. */
static void near_surfaces_in_thick_haze(void **state) {
    (void)state;
    random_stream r = {45};
    double worst[2] = {0, 0};
    for (int i = 0; i < 24; i++) {
        room_model room;
        room_make(&room, low, high, random_uniform(&r, 0.5, 1.5), 0.5);
        bool is_panel = i % 2;
        double z = random_uniform(&r, is_panel ? 0.8 : 0.2, is_panel ? 2 : 1);
        const vs_vec3 at = {0, 0, z}, below = {0, 0, 0}, from = {-3, 0, z}, to = {3, 0, z};
        vs_emitter e =
            is_panel ? room_panel(&room, at, below, 8, 6, 1000) : room_tube(&room, from, to, 1000);
        vs_vec3 p = {random_uniform(&r, -2, 2), random_uniform(&r, -1, 1), 0};
        double want = sum_of_elements(&room, &e, p, up, is_panel ? 800 : 100000);
        double got = lux_on(&room, &e, p, up);
        CHECK_NEAR(got, want, is_panel ? 3e-3 : 1e-3, 0);
        worst[i % 2] = fmax(worst[i % 2], fabs(got / want - 1));
        vs_haze_free(&room.haze);
    }
    printf("measured: near a tube and a panel in thick haze against plain sums: worst %.1e, %.1e\n",
           worst[0], worst[1]);
}

/* A1 F12 = A2 F21: one panel sends another what it would get from it. */
static void light_goes_both_ways(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0.1, 0);
    const vs_vec3 one = {0, 0, 0}, other = {2.3, 0.4, 1.1};
    vs_emitter a = room_panel(&room, one, other, 0.9, 0.5, 1);
    const vs_vec3 aside = {0.2, -0.3, 0.1};
    vs_emitter b = room_panel(&room, other, aside, 0.6, 1.2, 1);
    const vs_emitter *pair[2] = {&a, &b};
    double node[8], weight[8], flux[2] = {0, 0};
    CHECK_OK(vs_gauss_legendre(8, node, weight));
    for (int way = 0; way < 2; way++) {
        const vs_rect *to = &pair[1 - way]->rect;
        for (int i = 0; i < 64; i++) {
            vs_vec3 p = vs_vec3_along(to->center_m, to->u, node[i % 8] * to->half_u_m);
            p = vs_vec3_along(p, to->v, node[i / 8] * to->half_v_m);
            flux[way] += weight[i % 8] * weight[i / 8] * to->half_u_m * to->half_v_m *
                         lux_on(&room, pair[way], p, to->normal);
        }
    }
    CHECK_NEAR(flux[0], flux[1], 1e-5, 0);
    vs_haze_free(&room.haze);
}

static vs_vec3 quarter_turn(vs_vec3 v) {
    const vs_vec3 turned = {-v.y, v.x, v.z};
    return turned;
}

/* A location with everything in it, rotated by 90 degrees about the vertical, has the same veil. */
static void a_turned_scene_is_the_same(void **state) {
    (void)state;
    vs_bands nits[2][3];
    vs_vec3 from = {0.5, 0.7, 1.5}, to = {4, 3, 1}, card = {2, 1.8, 1.2}, at = {3, 0.6, 2.2};
    vs_vec3 aim = {1.5, 2.8, 0.5}, a = {0, 0, 0}, b = {5, 4, 3};
    for (int turn = 0; turn < 2; turn++) {
        room_model room;
        vs_vec3 corner = {fmin(a.x, b.x), fmin(a.y, b.y), 0};
        vs_vec3 opposite = {fmax(a.x, b.x), fmax(a.y, b.y), 3};
        room_make(&room, corner, opposite, 0.2, 0.6);
        room_add_blocker(&room, vs_rect_facing(card, at, 0.8, 0.6), 0);
        vs_emitter e[3] = {room_lamp(&room, at, 300), room_spot(&room, at, aim, 4000, 20, 33),
                           room_panel(&room, at, aim, 0.9, 0.4, 800)};
        vs_airlight work;
        CHECK_OK(vs_airlight_init(&work));
        vs_camera_ray sight = vs_camera_ray_to(&room.medium, from, to);
        for (int i = 0; i < 3; i++) {
            CHECK_OK(vs_airlight_fast(&work, &room.medium, &sight, &e[i], &nits[turn][i]));
        }
        vs_airlight_free(&work);
        vs_haze_free(&room.haze);
        vs_vec3 *all[] = {&from, &to, &card, &at, &aim, &a, &b};
        for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
            *all[i] = quarter_turn(*all[i]);
        }
    }
    for (int i = 0; i < 3; i++) {
        CHECK_TRUE(nits[0][i].v[1] > 0);
        CHECK_NEAR(nits[1][i].v[1], nits[0][i].v[1], 1e-9, 0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spot_is_half_and_a_tenth_where_it_says),
        cmocka_unit_test(lumens_of_a_spot),
        cmocka_unit_test(lux_given_are_lux_measured),
        cmocka_unit_test(an_element_under_a_panel),
        cmocka_unit_test(an_element_beside_a_panel),
        cmocka_unit_test(a_square_fills_two_thirds_of_pi),
        cmocka_unit_test(what_is_seen_of_a_surface),
        cmocka_unit_test(near_surfaces_in_thick_haze),
        cmocka_unit_test(light_goes_both_ways),
        cmocka_unit_test(a_turned_scene_is_the_same),
    };
    return RUN_TESTS(tests);
}
