/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scenes whose open densities are chosen. */
#include "check.h"
#include "hall.h"

#include "veilstop/shot/scene_with_densities.h"

#define AMBIENT_NITS 3.7

/* Open shots get the recommended density; given ones stay. */
static void open_shots_are_decided(void **state) {
    (void)state;
    hall_set h;
    hall_init(&h, AMBIENT_NITS);
    hall_add_shot(&h, 0);
    hall_add_point(&h, 7.9, 2);
    hall_add_want(&h, VS_WANT_SIGHT, 37);
    hall_add_shot(&h, 1);
    hall_add_point(&h, 7.9, 2);
    hall_give(&h, 0.013);
    vs_scene_with_densities d;
    CHECK_OK(vs_scene_with_densities_init(&d, &h.scene, VS_NONE, NULL));
    CHECK_TRUE(d.any_chosen && d.chosen[0] && !d.chosen[1]);
    CHECK_NEAR(d.chosen_per_m[0], 0.7 * 3.912 / 37, 1e-6, 0);
    CHECK_NEAR(d.scene.shot[0].room_density[0], 0.7 * 3.912 / 37, 1e-6, 0);
    CHECK_TRUE(d.scene.shot[1].room_density[0] == 0.013);
    CHECK_NAN(d.chosen_per_m[1]);
    vs_scene_with_densities_free(&d);
    CHECK_OK(vs_scene_with_densities_init(&d, &h.scene, 1, NULL));
    CHECK_TRUE(!d.any_chosen && d.scene.shot[0].density == VS_DENSITY_OPEN);
    vs_scene_with_densities_free(&d);
    h.want[0][0] = (vs_scene_want){.kind = VS_WANT_LIKE, .shot = 2, .limit = 0.2};
    hall_add_shot(&h, 1);
    hall_add_point(&h, 7.9, 2);
    hall_add_want(&h, VS_WANT_LIKE, 0.2)->shot = 0;
    CHECK_STATUS(vs_scene_with_densities_init(&d, &h.scene, VS_NONE, NULL), VS_ERR_INPUT);
    CHECK_TRUE(d.culprit == 0 && !d.shot);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(open_shots_are_decided),
    };
    return RUN_TESTS(tests);
}
