/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measured lamps in haze: a uniform table is a plain lamp, a table's edges and kinks are integrated
 * exactly, light on a surface follows the table. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "room.h"
#include "veilstop/light/illuminance.h"

static const vs_vec3 low = {-50, -50, -50}, high = {50, 50, 50};

static vs_emitter measured_lamp(const room_model *room, vs_vec3 at_m, vs_vec3 aim_m,
                                double roll_rad, const vs_photometric_table *grid) {
    static vs_light light; /* the emitter borrows its table */
    light = (vs_light){.name = "measured",
                       .kind = VS_LIGHT_PHOTOMETRY,
                       .on = true,
                       .dimmer = 1,
                       .strength = VS_STRENGTH_TABLE,
                       .at_m = at_m,
                       .aim_m = aim_m,
                       .roll_rad = roll_rad,
                       .table = *grid};
    vs_emitter emitter;
    CHECK_OK(vs_emitter_init(&emitter, &light, &room->space, 5600));
    return emitter;
}

static double veil(vs_airlight *work, const room_model *room, const vs_camera_ray *sight,
                   const vs_emitter *emitter, double relative) {
    vs_bands nits;
    CHECK_OK(vs_airlight_adaptive(work, &room->medium, sight, emitter, relative, &nits));
    return nits.v[1];
}

static vs_vec3 random_place(random_stream *r) {
    return (vs_vec3){random_uniform(r, -5, 5), random_uniform(r, -5, 5), random_uniform(r, -3, 3)};
}

static void an_even_table_is_a_plain_lamp(void **state) {
    (void)state;
    const double v[] = {0, 0.7, 1.9, VS_PI}, h[] = {0, 1, VS_PI / 2};
    const double cd[] = {25, 25, 25, 25, 25, 25, 25, 25, 25, 25, 25, 25};
    const vs_photometric_table grid = {4, 3, v, h, cd};
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    random_stream r = {31};
    double worst = 0;
    for (int k = 0; k < 100; k++) {
        room_model room;
        room_make(&room, low, high, random_log_uniform(&r, 1e-3, 0.3), 0.7);
        vs_vec3 at = random_place(&r), aim = random_place(&r);
        vs_emitter even = measured_lamp(&room, at, aim, 1, &grid), plain = room_lamp(&room, at, 25);
        vs_camera_ray sight =
            vs_camera_ray_along(&room.medium, random_place(&r), vs_vec3_unit(random_place(&r)),
                                random_uniform(&r, 1, 20));
        double got = veil(&work, &room, &sight, &even, 1e-9);
        double want = veil(&work, &room, &sight, &plain, 1e-9);
        CHECK_NEAR(got, want, 1e-8, 0);
        worst = fmax(worst, fabs(got / want - 1));
        vs_bands lux, plain_lux;
        vs_vec3 p = random_place(&r), n = vs_vec3_unit(random_place(&r));
        CHECK_OK(vs_illuminance(&work.sources, &room.medium, &even, p, n, 1e-6, &lux));
        CHECK_OK(vs_illuminance(&work.sources, &room.medium, &plain, p, n, 1e-6, &plain_lux));
        CHECK_NEAR(lux.v[0], plain_lux.v[0], 1e-12, 0);
        vs_haze_free(&room.haze);
    }
    printf("measured: veil of an even LM-63 table against a plain lamp, 100 rays: worst %.1e\n",
           worst);
    vs_airlight_free(&work);
}

/* The same integral by a midpoint sum over the angle at the lamp: isotropic haze, one room. */
static double midpoint_veil(const vs_emitter *lamp, const vs_camera_ray *sight,
                            double extinction_per_m, int steps) {
    vs_vec3 o = vs_vec3_sub(sight->at_m, lamp->at_m), d = sight->direction;
    double foot = -vs_vec3_dot(o, d), apart = vs_vec3_length(vs_vec3_along(o, d, foot));
    double from = atan(-foot / apart), to = atan((sight->length_m - foot) / apart), sum = 0;
    for (int i = 0; i < steps; i++) {
        double t = foot + apart * tan(from + (to - from) * (i + 0.5) / steps);
        vs_vec3 way = vs_vec3_along(o, d, t);
        double depth = extinction_per_m * (t + vs_vec3_length(way));
        sum += vs_photometric_candela(lamp->table, &lamp->frame, way) * exp(-depth) / apart;
    }
    return sum * (to - from) / steps * extinction_per_m / (4 * VS_PI);
}

static void edges_and_kinks_are_integrated(void **state) {
    (void)state;
    /* jumps at 20 and 90 degrees, kinks all over, dark in the middle */
    const double v[] = {20 * VS_RAD_PER_DEG, 0.6, 0.9, 1.2, VS_PI / 2};
    const double h[] = {0, 0.5, 1.1, 2.2, VS_PI};
    const double cd[] = {900, 500, 0,  0,   700, 800, 0,   0,   50, 600, 0,   0,  20,
                         900, 300, 70, 400, 0,   0,   100, 500, 0,  0,   650, 800};
    const vs_photometric_table grid = {5, 5, v, h, cd};
    CHECK_OK(vs_photometric_check(&grid));
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    random_stream r = {37};
    double worst = 0;
    int lit = 0;
    for (int k = 0; k < 60; k++) {
        room_model room;
        double s = random_log_uniform(&r, 1e-3, 0.3);
        room_make(&room, low, high, s, 0);
        vs_emitter lamp = measured_lamp(&room, random_place(&r), random_place(&r),
                                        random_uniform(&r, 0, 6), &grid);
        vs_camera_ray sight =
            vs_camera_ray_along(&room.medium, random_place(&r), vs_vec3_unit(random_place(&r)),
                                random_uniform(&r, 1, 20));
        double got = veil(&work, &room, &sight, &lamp, 1e-9);
        double want = midpoint_veil(&lamp, &sight, s, 40000);
        /* a midpoint sum is off by about a step at each jump */
        CHECK_NEAR(got, want, 5e-4, 1e-6);
        if (want > 1e-4) {
            worst = fmax(worst, fabs(got / want - 1));
            lit++;
        }
        vs_haze_free(&room.haze);
    }
    CHECK_TRUE(lit > 30);
    printf("measured: veil of a table with jumps and kinks against a sum of 40000 steps, %d rays: "
           "worst %.1e\n",
           lit, worst);
    vs_airlight_free(&work);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_even_table_is_a_plain_lamp),
        cmocka_unit_test(edges_and_kinks_are_integrated),
    };
    return RUN_TESTS(tests);
}
