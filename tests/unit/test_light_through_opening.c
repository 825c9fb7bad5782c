/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light of tubes and panels that comes through an opening: the fast veil integral against the
 * adaptive sum of points. */
#include <math.h>

#include "check.h"
#include "room.h"
#include "veilstop/light/airlight_fast.h"

/* Two rooms, an opening in the wall between. */
static void make_rooms(room_model *room, double first_per_m, double second_per_m) {
    const vs_vec3 low = {0, 0, 0}, high = {6.3, 5.8, 3.1};
    const vs_vec3 next_low = {6.3, 0, 0}, next_high = {13.6, 3.9, 4.2};
    const vs_vec3 sill = {6.3, 1.46, 0}, lintel = {6.3, 2.23, 1.96};
    room_make(room, low, high, first_per_m, 0.75);
    room_add_box(room, next_low, next_high, second_per_m);
    room_add_opening(room, sill, lintel, 0, 1, 1);
}

/* Fast over adaptive of a line's veil in one room. */
static void check_in_room(const room_model *room, const vs_emitter *emitter,
                          const vs_camera_ray *sight, size_t r, double within) {
    vs_airlight work;
    vs_camera_ray part = *sight;
    part.segment_count = 0;
    for (size_t i = 0; i < sight->segment_count; i++) {
        if (sight->segment[i].room == r) {
            part.segment[part.segment_count++] = sight->segment[i];
        }
    }
    CHECK_TRUE(part.segment_count > 0);
    vs_bands got, want;
    CHECK_OK(vs_airlight_init(&work));
    CHECK_OK(vs_airlight_fast(&work, &room->medium, &part, emitter, &got));
    CHECK_OK(vs_airlight_adaptive(&work, &room->medium, &part, emitter, 1e-5, &want));
    CHECK_TRUE(want.v[VS_BAND_GREEN] > 0);
    CHECK_NEAR(got.v[VS_BAND_GREEN], want.v[VS_BAND_GREEN], within, 0);
    vs_airlight_free(&work);
}

/* The opening's corner passes in front of the middle of the tube while both its ends are still
 * hidden. */
static void the_middle_of_a_tube_may_be_seen_first(void **state) {
    (void)state;
    room_model room;
    const vs_vec3 from = {9.35, 2.21, 3.69}, to = {9.3, 0.89, 3.08};
    const vs_vec3 eye = {2.94, 0.93, 1.18}, far = {12.45, 2.62, 3.12};
    make_rooms(&room, 0.1, 0.1);
    vs_emitter tube = room_tube(&room, from, to, 3000);
    vs_camera_ray sight = vs_camera_ray_to(&room.medium, eye, far);
    check_in_room(&room, &tube, &sight, 0, 1e-3);
    vs_haze_free(&room.haze);
}

/* A panel that extends through its wall shines through haze of its room and, beyond the opening, of
 * the next; each density counts for its part of the path. */
static void each_room_dims_its_part_of_the_way(void **state) {
    (void)state;
    room_model room;
    const vs_vec3 at = {0.3, 1.5, 1.2}, aim = {6, 1.9, 1}, nearer = {0.01, 1.5, 1.2};
    const vs_vec3 eye = {10, 0.6, 1}, far = {12.8, 3.2, 1.1};
    make_rooms(&room, 0.15, 0.05);
    vs_camera_ray sight = vs_camera_ray_to(&room.medium, eye, far);
    vs_emitter inside = room_panel(&room, at, aim, 0.6, 0.8, 1000);
    vs_emitter through = room_panel(&room, nearer, aim, 0.6, 0.8, 1000);
    CHECK_TRUE(!inside.through_wall && through.through_wall);
    check_in_room(&room, &inside, &sight, 1, 1e-3);
    check_in_room(&room, &through, &sight, 1, 1e-2);
    vs_haze_free(&room.haze);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_middle_of_a_tube_may_be_seen_first),
        cmocka_unit_test(each_room_dims_its_part_of_the_way),
    };
    return RUN_TESTS(tests);
}
