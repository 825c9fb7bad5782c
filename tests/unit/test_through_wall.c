/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A panel that extends through a wall lights a room only with the part inside. Checked against the
 * closed form of a rectangle (Siegel & Howell, configuration factors, B-3) and against a smaller
 * panel that is exactly that part. */
#include <math.h>
#include <stdio.h>

#include "check.h"
#include "room.h"
#include "veilstop/light/illuminance.h"

#define NITS  1000.0
#define LOW_M 0.5

static const vs_vec3 low = {0, 0, 0}, high = {4, 4, 3}, down = {0, 0, -1};

/* Face up; width along x, height along y; 0.37 of it lies beyond the south wall at y = 0. */
static vs_emitter partly_out(const room_model *room) {
    const vs_vec3 at = {2, 0.13, LOW_M}, aim = {2, 0.13, high.z};
    return room_panel(room, at, aim, 1, 1, NITS);
}

static vs_emitter part_inside(const room_model *room) {
    const vs_vec3 at = {2, 0.315, LOW_M}, aim = {2, 0.315, high.z};
    return room_panel(room, at, aim, 1, 0.63, NITS);
}

static void a_surface_is_lit_by_the_part_inside(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0, 0);
    vs_emitter panel = partly_out(&room);
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    for (int i = 1; i < 8; i++) {
        double rise_m = 0.3 * i;
        vs_vec3 p = {2, 0.315, LOW_M + rise_m};
        vs_bands lux;
        CHECK_OK(vs_illuminance(&work.sources, &room.medium, &panel, p, down, 1e-6, &lux));
        double want = VS_PI * NITS * 4 * vs_rect_corner_factor(0.5, 0.315, rise_m);
        CHECK_NEAR(lux.v[VS_BAND_GREEN], want, 1e-10, 0);
    }
    vs_airlight_free(&work);
    vs_haze_free(&room.haze);
}

static void haze_is_lit_by_the_part_inside(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0.05, 0.6);
    vs_emitter panel = partly_out(&room), inner = part_inside(&room);
    vs_airlight work;
    CHECK_OK(vs_airlight_init(&work));
    double worst = 0;
    for (int i = 0; i < 6; i++) {
        const vs_vec3 eye = {0.2, 3.5, 1.2 + 0.1 * i},
                      way = vs_vec3_unit((vs_vec3){3, -2 - 0.2 * i, 0.1});
        vs_camera_ray sight = vs_camera_ray_along(&room.medium, eye, way, INFINITY);
        vs_bands got, want;
        CHECK_OK(vs_airlight_adaptive(&work, &room.medium, &sight, &panel, 1e-4, &got));
        CHECK_OK(vs_airlight_adaptive(&work, &room.medium, &sight, &inner, 1e-4, &want));
        CHECK_NEAR(got.v[VS_BAND_GREEN], want.v[VS_BAND_GREEN], 0.02, 0);
        worst = fmax(worst, fabs(got.v[VS_BAND_GREEN] / want.v[VS_BAND_GREEN] - 1));
    }
    printf("measured: veil of a panel that reaches through a wall against its part inside: worst "
           "%.1e\n",
           worst);
    vs_airlight_free(&work);
    vs_haze_free(&room.haze);
}

/* A panel whose edge is on the wall is entirely inside. */
static void touching_a_wall_is_not_reaching_through(void **state) {
    (void)state;
    room_model room;
    room_make(&room, low, high, 0, 0);
    vs_emitter inner = part_inside(&room), out = partly_out(&room);
    CHECK_TRUE(inner.room == 0 && !inner.through_wall);
    CHECK_TRUE(out.room == 0 && out.through_wall);
    vs_haze_free(&room.haze);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_surface_is_lit_by_the_part_inside),
        cmocka_unit_test(haze_is_lit_by_the_part_inside),
        cmocka_unit_test(touching_a_wall_is_not_reaching_through),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
