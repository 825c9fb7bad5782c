/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The veil of one light against closed forms, and its limits. */
#include "check.h"

#include <math.h>
#include <stdio.h>

#include "room.h"

static const vs_vec3 low = {-50, -50, -50}, high = {50, 50, 50};

typedef struct {
    double u;
} tangent_parameter;

static double exp_minus_u_tan(double q, void *context) {
    const tangent_parameter *p = context;
    return exp(-p->u * tan(q));
}

static double special_f(vs_quadrature *quadrature, double u, double v) {
    tangent_parameter p = {u};
    double value;
    CHECK_OK(vs_quadrature_adaptive(quadrature, exp_minus_u_tan, &p, 0, v, 1e-12, 0, &value, NULL));
    return value;
}

/* Sun, Ramamoorthi, Narasimhan, Nayar 2005, ACM Trans. Graph. 24(3), "A practical analytic single
 * scattering model for real time rendering", eq. 7 to 10: airlight of an isotropic point source of
 * 1 cd in an isotropic medium of albedo 1 and extinction s, along a ray to distance d. */
static double sun_et_al_2005(vs_quadrature *q, double s, double distance_m, double gamma,
                             double d) {
    double sine = sin(gamma), cosine = cos(gamma), D = distance_m;
    double a0 = s * exp(-s * D * cosine) / (2 * VS_PI * D * sine);
    double a1 = s * D * sine;
    double to = VS_PI / 4 + atan((d - D * cosine) / (D * sine)) / 2;
    return a0 * (special_f(q, a1, to) - special_f(q, a1, gamma / 2));
}

static vs_camera_ray ray(const room_model *room, vs_vec3 from_m, vs_vec3 direction,
                         double length_m) {
    return vs_camera_ray_along(&room->medium, from_m, vs_vec3_unit(direction), length_m);
}

static vs_bands veil(vs_airlight *work, const room_model *room, const vs_camera_ray *sight,
                     const vs_emitter *emitter, double relative) {
    vs_bands nits;
    CHECK_OK(vs_airlight_adaptive(work, &room->medium, sight, emitter, relative, &nits));
    return nits;
}

static void isotropic_airlight_matches_its_closed_form(void **state) {
    (void)state;
    vs_airlight work;
    vs_quadrature quadrature;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_quadrature_init(&quadrature, 500));
    random_stream r = {2005};
    double worst = 0;
    for (int i = 0; i < 200; i++) {
        room_model room;
        double s = random_log_uniform(&r, 1e-3, 0.5), d = random_uniform(&r, 0.5, 20);
        double distance_m = random_uniform(&r, 0.2, 15), gamma = random_uniform(&r, 0.02, 3.1);
        room_make(&room, low, high, s, 0);
        vs_vec3 camera = {0.3, -0.7, 1.1}, way = {1, 0.4, -0.2}, aside = {-0.4, 1, 0};
        vs_vec3 w = vs_vec3_unit(way), p = vs_vec3_unit(aside);
        vs_vec3 lamp = vs_vec3_along(vs_vec3_along(camera, w, distance_m * cos(gamma)), p,
                                     distance_m * sin(gamma));
        vs_emitter emitter = room_lamp(&room, lamp, 1);
        vs_camera_ray sight = ray(&room, camera, w, d);
        double got = vs_bands_luminance(veil(&work, &room, &sight, &emitter, 1e-8));
        double want = sun_et_al_2005(&quadrature, s, distance_m, gamma, d);
        CHECK_NEAR(got, want, 1e-6, 0);
        worst = fmax(worst, fabs(got / want - 1));
        vs_haze_free(&room.haze);
    }
    printf("measured: isotropic airlight against the closed form, 200 geometries: worst %.1e\n",
           worst);
    vs_quadrature_free(&quadrature);
    vs_airlight_free(&work);
}

/* The same paper's limit for vanishing extinction, in Cartesian form: an inverse square integrated
 * along the ray, L = s/(4 pi h) (atan((d - a)/h) + atan(a/h)). */
static void vanishing_extinction_leaves_the_inverse_square(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    const double s = 1e-9, a = 2.385, h = 0.77, d = 6.1;
    room_model room;
    room_make(&room, low, high, s, 0);
    vs_vec3 camera = {0, 0, 0}, east = {1, 0, 0}, lamp = {a, h, 0};
    vs_emitter emitter = room_lamp(&room, lamp, 37);
    vs_camera_ray sight = ray(&room, camera, east, d);
    double want = 37 * s / (4 * VS_PI * h) * (atan((d - a) / h) + atan(a / h));
    CHECK_NEAR(veil(&work, &room, &sight, &emitter, 1e-9).v[0], want, 1e-7, 0);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* A distant panel is a point of nits x area; a short tube is a point of lumens / pi^2 (flux of a
 * sine lobe); a sky is a panel with its pane. */
static void surfaces_far_off_act_as_points(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    room_model room;
    room_make(&room, low, high, 0.05, 0.7);
    vs_vec3 camera = {0, 0, 0}, east = {1, 0, 0}, at = {6, 20, 0}, aim = {6, 0, 0};
    vs_emitter panel = room_panel(&room, at, aim, 0.02, 0.02, 5000);
    vs_vec3 from = {5.995, 20, 0}, to = {6.005, 20, 0};
    vs_emitter tube = room_tube(&room, from, to, 900);
    vs_emitter lamp = room_lamp(&room, at, 1);
    vs_point_source cosine = {at, {{2, 2, 2}}, &panel, VS_PROFILE_COSINE, panel.axis};
    CHECK_NEAR(vs_point_source_profile(&cosine, panel.axis), 1, 1e-15, 0);
    vs_camera_ray sight = ray(&room, camera, east, 12);
    /* over this short ray both lobes stay within 4 % of their peak: compare with bounds */
    double point = vs_bands_luminance(veil(&work, &room, &sight, &lamp, 1e-8));
    double flat = vs_bands_luminance(veil(&work, &room, &sight, &panel, 1e-6));
    double line = vs_bands_luminance(veil(&work, &room, &sight, &tube, 1e-6));
    CHECK_TRUE(flat < 2 * point && flat > 0.95 * 2 * point);
    CHECK_TRUE(line < 900 / (VS_PI * VS_PI) * point && line > 0.95 * 900 / (VS_PI * VS_PI) * point);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* A shaft of sun of width w, seen at right angles through thin haze: L = E s p(90 degrees) w, the
 * single-scattering source function times its depth. */
static void a_sun_shaft_seen_square_on(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    const double s = 1e-7, w = 0.62, lux = 40000;
    room_model room;
    vs_vec3 corner = {0, 0, 0}, opposite = {8, 6, 3};
    room_make(&room, corner, opposite, s, 0.6);
    vs_vec3 hole_a = {3, 2, 3}, hole_b = {3 + w, 4, 3}, down = {0, 0, -1}, camera = {0.5, 3, 1.5};
    room_add_opening(&room, hole_a, hole_b, 0, VS_SPACE_OUTSIDE, 0.8);
    vs_emitter sun = room_sun(&room, 0, down, lux);
    vs_vec3 east = {1, 0, 0};
    vs_camera_ray sight = ray(&room, camera, east, INFINITY);
    double side = vs_phase_per_sr(&room.haze.phase[1], 0);
    CHECK_NEAR(veil(&work, &room, &sight, &sun, 1e-9).v[1], 0.8 * lux * s * side * w, 1e-5, 0);
    /* at 30 degrees elevation of view the ray stays in the shaft w/cos 30 long, at 120 degrees to
     * the light's travel */
    vs_vec3 up = {cos(VS_PI / 6), 0, sin(VS_PI / 6)}, low_camera = {2.5, 3, 0.5};
    sight = ray(&room, low_camera, up, INFINITY);
    double oblique = vs_phase_per_sr(&room.haze.phase[1], sin(VS_PI / 6));
    CHECK_NEAR(veil(&work, &room, &sight, &sun, 1e-9).v[1],
               0.8 * lux * s * oblique * w / cos(VS_PI / 6), 1e-5, 0);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* Absorption along a beam: E = E0 exp(-s l) (Beer-Lambert), so that the shaft is dimmer lower. */
static void a_sun_shaft_dims_with_depth(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    const double s = 0.2, w = 0.4, lux = 1000;
    room_model room;
    vs_vec3 corner = {0, 0, 0}, opposite = {8, 6, 3};
    room_make(&room, corner, opposite, s, 0.6);
    vs_vec3 hole_a = {3, 2, 3}, hole_b = {3 + w, 4, 3}, down = {0, 0, -1}, camera = {0.5, 3, 1.2};
    room_add_opening(&room, hole_a, hole_b, 0, VS_SPACE_OUTSIDE, 1);
    vs_emitter sun = room_sun(&room, 0, down, lux);
    vs_vec3 east = {1, 0, 0};
    vs_camera_ray sight = ray(&room, camera, east, INFINITY);
    double side = vs_phase_per_sr(&room.haze.phase[1], 0);
    double want = lux * exp(-s * 1.8) * side * (exp(-s * 2.5) - exp(-s * (2.5 + w)));
    CHECK_NEAR(veil(&work, &room, &sight, &sun, 1e-9).v[1], want, 1e-12, 0);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* A uniform radiance: albedo x L x (1 - T), and its transmission is Koschmieder's. */
static void an_ambient_veil_closes_to_the_horizon(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0.13, 0.7);
    vs_vec3 camera = {0, 0, 0}, east = {1, 0, 0};
    vs_camera_ray sight = ray(&room, camera, east, 9.2);
    CHECK_NEAR(vs_airlight_ambient(&room.medium, &sight, 3.7).v[0], 3.7 * (1 - exp(-0.13 * 9.2)),
               1e-14, 0);
    /* Koschmieder: C = C0 exp(-s d); 5 % is left at 2.9957/s (CIE e-ILV 17-772, WMO-No. 8) */
    sight = ray(&room, camera, east, 2.995732273553991 / 0.13);
    CHECK_NEAR(vs_camera_ray_transmission(&room.medium, &sight).v[1], 0.05, 1e-12, 0);
    vs_haze_free(&room.haze);
}

/* A spot behind an opening lights no more than the same spot without the wall, and a shadow's edge
 * that moves across the ray changes the veil continuously. */
static void a_moving_blocker_changes_the_veil_continuously(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    room_model room;
    room_make(&room, low, high, 0.05, 0.7);
    vs_vec3 camera = {0, 0, 0}, east = {1, 0, 0}, at = {4, 3, 0};
    vs_emitter lamp = room_lamp(&room, at, 100);
    vs_camera_ray sight = ray(&room, camera, east, 10);
    double open = veil(&work, &room, &sight, &lamp, 1e-9).v[0], before = open;
    for (int i = 0; i <= 400; i++) {
        vs_vec3 card = {-2 + 0.03 * i, 1.5, 0}, card_aim = {-2 + 0.03 * i, 3, 0};
        room.space.blocker_count = 0;
        room_add_blocker(&room, vs_rect_facing(card, card_aim, 1, 1), 0);
        double now = veil(&work, &room, &sight, &lamp, 1e-9).v[0];
        CHECK_TRUE(now <= open * (1 + 1e-9));
        CHECK_TRUE(fabs(now - before) < 0.03 * open);
        before = now;
    }
    room.space.blocker_count = 0;
    vs_vec3 card = {4, 1.5, 0}, card_aim = {4, 3, 0};
    room_add_blocker(&room, vs_rect_facing(card, card_aim, 1000, 1000), 0);
    CHECK_NEAR(veil(&work, &room, &sight, &lamp, 1e-9).v[0], 0, 0, 0);
    /* a net passes its share of the light it shades */
    room.blocker[0].transmittance = 0.3;
    CHECK_NEAR(veil(&work, &room, &sight, &lamp, 1e-9).v[0], 0.3 * open, 1e-9, 0);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* Two rooms of different haze joined by an opening: the closed form of the depth from lamp to line
 * must agree with the optical depth along each path, by a fine midpoint sum. */
static void light_through_a_doorway_into_other_haze(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    room_model room;
    vs_vec3 a0 = {0, 0, 0}, a1 = {4, 5, 3}, b0 = {4, 0, 0}, b1 = {9, 5, 3};
    room_make(&room, a0, a1, 0.02, 0.7);
    room_add_box(&room, b0, b1, 0.31);
    vs_vec3 door_a = {4, 2, 0}, door_b = {4, 3, 2};
    room_add_opening(&room, door_a, door_b, 0, 1, 0.9);
    vs_vec3 lamp_at = {1, 2.2, 1.4}, camera = {8.5, 0.5, 1.2}, way = {-0.55, 1, 0.02};
    vs_emitter lamp = room_lamp(&room, lamp_at, 500);
    vs_camera_ray sight = ray(&room, camera, way, INFINITY);
    double got = veil(&work, &room, &sight, &lamp, 1e-9).v[2];
    double sum = 0, step_m = sight.length_m / 200000;
    for (int i = 0; i < 200000; i++) {
        double t_m = (i + 0.5) * step_m;
        vs_vec3 p = vs_camera_ray_point(&sight, t_m), leg = vs_vec3_sub(p, lamp_at);
        vs_passage passage = vs_space_passage(&room.space, lamp_at, p);
        double depth =
            vs_space_optical_depth(&room.space, room.extinction_per_m, lamp_at, p) + 0.31 * t_m;
        double square = vs_vec3_dot(leg, leg);
        double cosine = -vs_vec3_dot(leg, sight.direction) / sqrt(square);
        sum += passage.transmittance * 500 / square * 0.31 * exp(-depth) *
               vs_phase_per_sr(&room.haze.phase[2], cosine) * step_m;
    }
    CHECK_TRUE(sum > 0);
    CHECK_NEAR(got, sum, 3e-5, 0);
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

/* A spot so soft that it ends at a right angle from its axis: what is before it is lit. */
static void a_soft_spot_lights_all_that_is_before_it(void **state) {
    (void)state;
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    room_model room;
    const vs_vec3 corner = {0, 0, 0}, opposite = {10, 8, 4};
    room_make(&room, corner, opposite, 0.05, 0.7);
    random_stream r = {47};
    for (int i = 0; i < 50; i++) {
        vs_vec3 at = {random_uniform(&r, 3, 7), random_uniform(&r, 2, 6), random_uniform(&r, 1, 3)};
        vs_vec3 aim = {random_uniform(&r, 1, 9), random_uniform(&r, 0, 2),
                       random_uniform(&r, 0, 4)};
        vs_vec3 camera = {0.5, random_uniform(&r, 1, 7), 1.5},
                way = {1, random_uniform(&r, -1, 1), 0};
        vs_emitter spot = room_spot(&room, at, aim, 500, 70, 150);
        CHECK_NEAR(spot.spot.cutoff_rad, VS_PI / 2, 1e-12, 0);
        vs_camera_ray sight = ray(&room, camera, way, INFINITY);
        double got = veil(&work, &room, &sight, &spot, 1e-9).v[2];
        double sum = 0, step_m = sight.length_m / 50000;
        vs_point_source source = {at, spot.strength, &spot, spot.profile, spot.axis};
        for (int k = 0; k < 50000; k++) {
            double t_m = (k + 0.5) * step_m;
            vs_vec3 leg = vs_vec3_sub(vs_camera_ray_point(&sight, t_m), at);
            double length_m = vs_vec3_length(leg);
            double profile = vs_point_source_profile(&source, vs_vec3_scale(leg, 1 / length_m));
            double cosine = -vs_vec3_dot(leg, sight.direction) / length_m;
            sum += 500 * profile / (length_m * length_m) * 0.05 * exp(-0.05 * (length_m + t_m)) *
                   vs_phase_per_sr(&room.haze.phase[2], cosine) * step_m;
        }
        CHECK_NEAR(got, sum, 2e-3, 1e-9);
    }
    vs_haze_free(&room.haze);
    vs_airlight_free(&work);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(isotropic_airlight_matches_its_closed_form),
        cmocka_unit_test(vanishing_extinction_leaves_the_inverse_square),
        cmocka_unit_test(surfaces_far_off_act_as_points),
        cmocka_unit_test(a_sun_shaft_seen_square_on),
        cmocka_unit_test(a_soft_spot_lights_all_that_is_before_it),
        cmocka_unit_test(a_sun_shaft_dims_with_depth),
        cmocka_unit_test(an_ambient_veil_closes_to_the_horizon),
        cmocka_unit_test(a_moving_blocker_changes_the_veil_continuously),
        cmocka_unit_test(light_through_a_doorway_into_other_haze),
    };
    return RUN_TESTS(tests);
}
