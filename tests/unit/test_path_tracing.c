/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random walks against published slabs, exact balances of light, and the once-scattered integral.
 */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "light/geometry/ray_casting.h"
#include "room.h"
#include "veilstop/light/illuminance.h"
#include "veilstop/light/path_tracing.h"

#define WALKS 40000 /* per figure; `make accuracy` uses more */

/* Fails the test if a mean is not within 4 standard errors (and `relative`). */
static void check_mean(const vs_tally *tally, double want, double relative) {
    double got = vs_bands_luminance(vs_tally_mean(tally));
    CHECK_NEAR(got, want, relative, 4 * vs_tally_error(tally));
}

/* The error of a mean, in percent and in standard errors. */
static double off_percent(const vs_tally *tally, double want) {
    return 100 * (vs_bands_luminance(vs_tally_mean(tally)) / want - 1);
}

static double off_errors(const vs_tally *tally, double want) {
    return (vs_bands_luminance(vs_tally_mean(tally)) - want) / vs_tally_error(tally);
}

static const double black[4 * VS_SURFACE_FACES] = {0};

/* A slab of thickness tau, wide enough that its sides do not matter, lit through its open top. */
typedef struct {
    room_model room;
    vs_emitter sun;
    vs_surfaces surfaces;
    vs_path_tracer paths;
    double tau;
} slab;

#define SLAB_HALF_M 2e4 /* [m] against an extinction of 1/m */

static void slab_make(slab *s, double tau, double albedo, double g, double mu0, double lux) {
    const vs_vec3 low = {-SLAB_HALF_M, -SLAB_HALF_M, 0}, high = {SLAB_HALF_M, SLAB_HALF_M, tau};
    const vs_vec3 top = {-SLAB_HALF_M, -SLAB_HALF_M, tau};
    memset(s, 0, sizeof *s);
    s->tau = tau;
    room_make(&s->room, low, high, 1, g);
    room_add_opening(&s->room, top, high, 0, VS_SPACE_OUTSIDE, 1);
    s->room.haze.albedo = vs_bands_grey(albedo);
    vs_vec3 travel = {sqrt(1 - mu0 * mu0), 0, -mu0};
    s->sun = room_sun(&s->room, 0, travel, lux);
    s->surfaces.face = black;
}

static void slab_ready(slab *s) {
    CHECK_OK(vs_path_tracer_init(&s->paths, &s->room.medium, &s->surfaces, &s->sun, 1,
                                 VS_PATH_TRACER_ALL_ORDERS));
}

static void slab_free(slab *s) {
    vs_path_tracer_free(&s->paths);
    vs_haze_free(&s->room.haze);
}

static vs_tally slab_radiance(const slab *s, bool from_top, double mu, size_t walks) {
    vs_vec3 at = {0, 0, from_top ? s->tau : 0};
    vs_vec3 way = {sqrt(1 - mu * mu), 0, from_top ? -mu : mu};
    vs_camera_ray sight = vs_camera_ray_along(&s->room.medium, at, way, INFINITY);
    vs_random random = vs_random_make(1980, from_top);
    vs_tally tally = {0};
    for (size_t i = 0; i < walks; i++) {
        vs_tally_add(&tally, vs_path_tracer_veil(&s->paths, &sight, SIZE_MAX, &random).rest);
    }
    return tally;
}

static void slabs_of_van_de_hulst(void **state) {
    (void)state;
    table t = table_read("slab_van_de_hulst.csv", 6);
    double worst = 0, errors = 0;
    for (size_t row = 0; row < t.rows; row++) {
        slab s;
        double mu0 = table_number(&t, row, "mu0");
        /* pi perpendicular to the beam, so that the radiance is mu0 R */
        slab_make(&s, 2, 0.8, 0, mu0, VS_PI);
        slab_ready(&s);
        vs_tally up = slab_radiance(&s, true, 0.5, WALKS);
        double want = mu0 * table_number(&t, row, "reflection");
        check_mean(&up, want, 0);
        worst = fmax(worst, fabs(off_percent(&up, want)));
        errors = fmax(errors, fabs(off_errors(&up, want)));
        if (*table_text(&t, row, "transmission")) {
            vs_tally down = slab_radiance(&s, false, 0.5, WALKS);
            want = mu0 * table_number(&t, row, "transmission");
            check_mean(&down, want, 0);
            worst = fmax(worst, fabs(off_percent(&down, want)));
            errors = fmax(errors, fabs(off_errors(&down, want)));
        }
        slab_free(&s);
    }
    table_free(&t);
    printf("measured: slabs of van de Hulst, %d walks a figure: worst off by %.2f %%, by %.1f "
           "errors\n",
           WALKS, worst, errors);
}

/* Flux on a surface at the slab's top or bottom, without the beam itself. */
static vs_tally slab_flux(const slab *s, bool top, size_t walks) {
    vs_vec3 at = {0, 0, top ? s->tau : 0}, normal = {0, 0, top ? -1 : 1};
    vs_random random = vs_random_make(1988, top);
    vs_tally tally = {0};
    for (size_t i = 0; i < walks; i++) {
        vs_path_light light = vs_path_tracer_surface(&s->paths, at, normal, 1, 0, &random);
        vs_tally_add(&tally, vs_bands_scale(light.rest, VS_PI));
    }
    return tally;
}

static double rayleigh_value[2001];

static void make_rayleigh(vs_haze *haze) {
    for (int i = 0; i <= 2000; i++) {
        double cosine = vs_phase_table_cosine(i / 2000.0);
        rayleigh_value[i] = 3 * (1 + cosine * cosine) / (16 * VS_PI);
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_phase phase = {VS_PHASE_TABLE, 0, rayleigh_value, 2001};
        haze->phase[band] = phase;
    }
}

static void slabs_of_disort(void **state) {
    (void)state;
    table t = table_read("slab_disort.csv", 3);
    for (size_t row = 0; row < t.rows; row++) {
        slab s;
        bool rayleigh = strcmp(table_text(&t, row, "phase"), "rayleigh") == 0;
        double g = rayleigh ? 0 : table_number(&t, row, "phase");
        double tau = table_number(&t, row, "optical_depth");
        slab_make(&s, tau, table_number(&t, row, "albedo"), g, table_number(&t, row, "mu0"), VS_PI);
        if (rayleigh) {
            make_rayleigh(&s.room.haze);
        }
        slab_ready(&s);
        size_t walks = tau > 4 ? WALKS / 4 : WALKS;
        vs_tally up = slab_flux(&s, true, walks), down = slab_flux(&s, false, walks);
        /* the printed digits themselves may be 1e-3 off in thin slabs */
        check_mean(&up, table_number(&t, row, "flux_up"), 1e-3);
        check_mean(&down, table_number(&t, row, "flux_down_diffuse"), 1e-3);
        double want_up = table_number(&t, row, "flux_up");
        double want_down = table_number(&t, row, "flux_down_diffuse");
        printf("measured: DISORT %s: up off by %.2f %% (%.1f errors), down by %.2f %% (%.1f)\n",
               table_text(&t, row, "case"), off_percent(&up, want_up), off_errors(&up, want_up),
               off_percent(&down, want_down), off_errors(&down, want_down));
        slab_free(&s);
    }
    table_free(&t);
}

/* Mean light on the walls of a box, at random places. */
static vs_tally mean_wall_lux(const room_model *room, const vs_path_tracer *paths, size_t walks) {
    vs_random random = vs_random_make(7, 7);
    vs_tally tally = {0};
    double area[VS_SURFACE_FACES], whole = 0;
    for (int face = 0; face < VS_SURFACE_FACES; face++) {
        vs_rect rect = vs_surfaces_face(&room->box[0], face);
        whole += area[face] = 4 * rect.half_u_m * rect.half_v_m;
    }
    for (size_t i = 0; i < walks; i++) {
        double u = vs_random_uniform(&random) * whole;
        int face = 0;
        for (; face < VS_SURFACE_FACES - 1 && u >= area[face]; face++) {
            u -= area[face];
        }
        vs_rect rect = vs_surfaces_face(&room->box[0], face);
        vs_vec3 p = vs_vec3_along(rect.center_m, rect.u,
                                  (2 * vs_random_uniform(&random) - 1) * rect.half_u_m);
        p = vs_vec3_along(p, rect.v, (2 * vs_random_uniform(&random) - 1) * rect.half_v_m);
        vs_path_light light = vs_path_tracer_surface(paths, p, rect.normal, 1, SIZE_MAX, &random);
        vs_tally_add(&tally, vs_bands_scale(light.rest, VS_PI));
    }
    return tally;
}

/* A closed room of one reflectance satisfies the balance lumens = (1 - reflectance) x lux x area,
 * whatever its shape and its haze (of albedo 1): the integrating sphere's multiplier for no port, M
 * = r / (1 - r), for the light that has met a wall. */
static void a_closed_room_balances(void **state) {
    (void)state;
    const double candela = 10, reflectance = 0.7, g = 0.75;
    const vs_vec3 low = {0, 0, 0}, high = {2, 2, 2}, lamp_at = {0.6, 1.3, 0.9};
    for (int hazed = 0; hazed < 2; hazed++) {
        room_model room;
        room_make(&room, low, high, hazed ? 0.4 : 0, g);
        vs_emitter lamp = room_lamp(&room, lamp_at, candela);
        double face[VS_SURFACE_FACES];
        for (int i = 0; i < VS_SURFACE_FACES; i++) {
            face[i] = reflectance;
        }
        vs_surfaces surfaces = {face, NULL};
        vs_path_tracer paths;
        CHECK_OK(vs_path_tracer_init(&paths, &room.medium, &surfaces, &lamp, 1,
                                     VS_PATH_TRACER_ALL_ORDERS));
        vs_tally lux = mean_wall_lux(&room, &paths, WALKS);
        double want = 4 * VS_PI * candela / (24 * (1 - reflectance));
        check_mean(&lux, want, 0);
        printf("measured: closed cube%s, 4 pi cd in, %.4f times the lux expected (error %.4f)\n",
               hazed ? " with haze" : "", vs_bands_luminance(vs_tally_mean(&lux)) / want,
               vs_tally_error(&lux) / want);
        vs_path_tracer_free(&paths);
        vs_haze_free(&room.haze);
    }
}

/* Every kind of light, stopped after one scattering, against the adaptive integral. */
static void one_turn_is_the_once_scattered_integral(void **state) {
    (void)state;
    const vs_vec3 low = {0, 0, 0}, high = {6, 4, 3}, next_low = {6, 0, 0}, next_high = {9, 4, 3};
    room_model room;
    room_make(&room, low, high, 0.15, 0.6);
    room_add_box(&room, next_low, next_high, 0.4);
    vs_vec3 door_low = {6, 1, 0}, door_high = {6, 2.2, 2.1};
    room_add_opening(&room, door_low, door_high, 0, 1, 0.9);
    vs_vec3 roof_low = {1, 1, 3}, roof_high = {2.2, 2.6, 3};
    room_add_opening(&room, roof_low, roof_high, 0, VS_SPACE_OUTSIDE, 0.8);
    vs_vec3 blocker_at = {3, 2.4, 1.5}, blocker_aim = {4, 2.2, 1.6};
    room_add_blocker(&room, vs_rect_facing(blocker_at, blocker_aim, 0.8, 0.8), 0.4);
    vs_vec3 a = {2.2, 3.1, 2.4}, b = {7.8, 1.6, 1.2}, c = {5, 3.4, 2}, d = {3.2, 1, 1.1};
    vs_vec3 tube_to = {4.6, 0.5, 2.6}, tube_from = {3.4, 0.5, 2.6}, travel = {0.4, 0.3, -1};
    vs_vec3 outside = {1.5, 1.4, 6};
    vs_emitter light[] = {room_lamp(&room, a, 50),
                          room_spot(&room, b, d, 4000, 20, 45),
                          room_panel(&room, c, d, 1.2, 0.8, 900),
                          room_tube(&room, tube_from, tube_to, 1500),
                          room_sun(&room, 1, travel, 20000),
                          room_sky(&room, 1, 800),
                          room_spot(&room, outside, d, 9000, 30, 60)};
    const size_t count = sizeof light / sizeof light[0];
    vs_vec3 camera = {0.4, 2, 1.4}, at = {8.7, 1.5, 1.3}, wall = {0, 2.1, 1.2}, east = {1, 0, 0};
    vs_camera_ray sight = vs_camera_ray_to(&room.medium, camera, at);
    vs_surfaces surfaces = {black, black};
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    for (size_t i = 0; i < count; i++) {
        vs_path_tracer paths;
        vs_bands veil, lux;
        vs_random random = vs_random_make(31, i);
        CHECK_OK(vs_path_tracer_init(&paths, &room.medium, &surfaces, &light[i], 1, 1));
        vs_tally one = {0}, lit = {0};
        for (size_t n = 0; n < WALKS; n++) {
            vs_tally_add(&one, vs_path_tracer_veil(&paths, &sight, 0, &random).watched);
            vs_tally_add(&lit, vs_path_tracer_surface(&paths, wall, east, 1, 0, &random).watched);
        }
        CHECK_OK(vs_airlight_adaptive(&work, &room.medium, &sight, &light[i], 1e-5, &veil));
        CHECK_OK(vs_illuminance(&work.sources, &room.medium, &light[i], wall, east, 1e-5, &lux));
        check_mean(&one, vs_bands_luminance(veil), 2e-4);
        check_mean(&lit, vs_bands_luminance(lux) / VS_PI, 2e-4);
        printf("measured: once-scattered, light %zu: %.4f of the integral (error %.4f)\n", i,
               vs_bands_luminance(vs_tally_mean(&one)) / vs_bands_luminance(veil),
               vs_tally_error(&one) / vs_bands_luminance(veil));
        vs_path_tracer_free(&paths);
    }
    vs_airlight_free(&work);
    vs_haze_free(&room.haze);
}

/* A path that grazes the foot of an opening meets the floor, not the opening beside it: otherwise
 * it would pass from room to room without end. */
static void a_doorway_is_met_in_its_own_wall_only(void **state) {
    (void)state;
    const vs_vec3 low = {0, 0, 0}, high = {6, 4, 3}, next_low = {6, 0, 0}, next_high = {9, 4, 3};
    vs_vec3 door_low = {6, 1, 0}, door_high = {6, 2.2, 2.1};
    room_model room;
    room_make(&room, low, high, 0.1, 0.6);
    room_add_box(&room, next_low, next_high, 0.1);
    room_add_opening(&room, door_low, door_high, 0, 1, 1);
    vs_vec3 foot = {6 - 5e-6, 1.5, 0}, down = {0.5, 0, -sqrt(0.75)}, on = {1, 0, 0};
    vs_ray_event next = vs_ray_next_event(&room.space, foot, down, 0);
    CHECK_TRUE(next.end == VS_RAY_MEETS_WALL && next.face == 4);
    foot.z = 0.3;
    next = vs_ray_next_event(&room.space, foot, on, 0);
    CHECK_TRUE(next.end == VS_RAY_MEETS_OPENING && next.index == 0);
    foot.y = 0.5;
    next = vs_ray_next_event(&room.space, foot, on, 0);
    CHECK_TRUE(next.end == VS_RAY_MEETS_WALL && next.face == 1);
    vs_haze_free(&room.haze);
}

/* Light that nothing absorbs has no finite solution. */
static void trapped_light_is_refused(void **state) {
    (void)state;
    const vs_vec3 low = {0, 0, 0}, high = {2, 3, 4}, lamp_at = {1, 1, 1};
    room_model room;
    room_make(&room, low, high, 0.1, 0.7);
    vs_emitter lamp = room_lamp(&room, lamp_at, 1);
    double face[VS_SURFACE_FACES] = {1, 1, 1, 1, 1, 1};
    vs_surfaces surfaces = {face, NULL};
    vs_path_tracer paths;
    CHECK_STATUS(
        vs_path_tracer_init(&paths, &room.medium, &surfaces, &lamp, 1, VS_PATH_TRACER_ALL_ORDERS),
        VS_ERR_DOMAIN);
    face[4] = 0.9;
    CHECK_OK(
        vs_path_tracer_init(&paths, &room.medium, &surfaces, &lamp, 1, VS_PATH_TRACER_ALL_ORDERS));
    vs_path_tracer_free(&paths);
    face[4] = 1;
    vs_vec3 a = {2, 1, 1}, b = {2, 2, 2};
    room_add_opening(&room, a, b, 0, VS_SPACE_OUTSIDE, 1);
    CHECK_OK(
        vs_path_tracer_init(&paths, &room.medium, &surfaces, &lamp, 1, VS_PATH_TRACER_ALL_ORDERS));
    vs_path_tracer_free(&paths);
    vs_path_tracer_free(&paths);
    vs_haze_free(&room.haze);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(slabs_of_van_de_hulst),
        cmocka_unit_test(slabs_of_disort),
        cmocka_unit_test(a_closed_room_balances),
        cmocka_unit_test(one_turn_is_the_once_scattered_integral),
        cmocka_unit_test(a_doorway_is_met_in_its_own_wall_only),
        cmocka_unit_test(trapped_light_is_refused),
    };
    return RUN_TESTS(tests);
}
