/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boxes, holes in their walls, rectangles in the air: visibility and lines of sight. The rules are
 * those of docs/scene.md; lengths and depths are worked out by hand. */
#include "check.h"

#include <math.h>

#include "room.h"

static const vs_vec3 a0 = {0, 0, 0}, a1 = {4, 5, 3}, b0 = {4, 0, 0}, b1 = {9, 5, 3};
static const vs_vec3 door_low = {4, 2, 0}, door_high = {4, 3, 2};

/* Two rooms with an opening at x = 4 and a pane to outside at y = 0 of the first. */
static void two_rooms(room_model *room) {
    const vs_vec3 pane_low = {1, 0, 1}, pane_high = {2, 0, 2};
    room_make(room, a0, a1, 0.02, 0.7);
    room_add_box(room, b0, b1, 0.3);
    room_add_opening(room, door_low, door_high, 0, 1, 1);
    room_add_opening(room, pane_low, pane_high, 0, VS_SPACE_OUTSIDE, 0.8);
}

static vs_passage passage(const room_model *room, double x0, double y0, double z0, double x1,
                          double y1, double z1) {
    const vs_vec3 a = {x0, y0, z0}, b = {x1, y1, z1};
    vs_passage one = vs_space_passage(&room->space, a, b);
    vs_passage other = vs_space_passage(&room->space, b, a);
    CHECK_NEAR(one.transmittance, other.transmittance, 0, 0);
    CHECK_TRUE(one.opening_count == other.opening_count);
    return one;
}

/* docs/scene.md, "Blockers": w is horizontal; an aim within 1 degree of the vertical has the width
 * along x. */
static void rectangles_face_their_aim(void **state) {
    (void)state;
    random_stream r = {61};
    for (int i = 0; i < 300; i++) {
        vs_vec3 at = {random_uniform(&r, -3, 3), random_uniform(&r, -3, 3),
                      random_uniform(&r, -3, 3)};
        vs_vec3 aim = {random_uniform(&r, -3, 3), random_uniform(&r, -3, 3),
                       random_uniform(&r, -3, 3)};
        vs_rect rect = vs_rect_facing(at, aim, 2, 1);
        vs_vec3 cross = vs_vec3_cross(rect.u, rect.v);
        CHECK_NEAR(vs_vec3_dot(rect.normal, vs_vec3_unit(vs_vec3_sub(aim, at))), 1, 1e-14, 0);
        CHECK_NEAR(vs_vec3_dot(cross, rect.normal), 1, 1e-14, 0);
        CHECK_NEAR(rect.u.z, 0, 0, 1e-15);
        CHECK_NEAR(rect.half_u_m, 1, 0, 0);
        CHECK_NEAR(rect.half_v_m, 0.5, 0, 0);
    }
    const vs_vec3 at = {1, 1, 3}, under = {1.01, 1.01, 0}, aside = {1.1, 1, 0};
    CHECK_NEAR(fabs(vs_rect_facing(at, under, 2, 1).u.x), 1, 1e-4, 0);  /* 0.27 degrees off */
    CHECK_NEAR(fabs(vs_rect_facing(at, aside, 2, 1).u.y), 1, 1e-12, 0); /* 1.9 degrees off */
}

static void walls_stop_and_openings_open(void **state) {
    (void)state;
    room_model room;
    two_rooms(&room);
    CHECK_NEAR(passage(&room, 1, 1, 1, 3, 4, 2).transmittance, 1, 0, 0);
    vs_passage through = passage(&room, 2, 2.5, 1, 6, 2.5, 1);
    CHECK_NEAR(through.transmittance, 1, 0, 0);
    CHECK_TRUE(through.opening_count == 1 && through.opening[0] == 0);
    CHECK_NEAR(passage(&room, 2, 1, 1, 6, 1, 1).transmittance, 0, 0, 0); /* beside the door */
    CHECK_NEAR(passage(&room, 2, 2.5, 2.5, 6, 2.5, 2.5).transmittance, 0, 0, 0); /* over it */
    CHECK_NEAR(passage(&room, 1.5, 3, 1.5, 1.5, -2, 1.5).transmittance, 0.8, 0, 0);
    CHECK_NEAR(passage(&room, 3, 3, 1.5, 3, -2, 1.5).transmittance, 0, 0, 0);
    /* in through the pane and on through the door: from outside into the second room */
    vs_passage two = passage(&room, -0.25, -1.5, 1.5, 6, 3.8, 1.5);
    CHECK_TRUE(two.transmittance == 0 || two.opening_count == 2);
    CHECK_NEAR(passage(&room, 12, 1, 1, 12, 4, 1).transmittance, 1, 0,
               0); /* outside, clear of all */
    CHECK_NEAR(passage(&room, -1, 2.5, 1, 12, 2.5, 1).transmittance, 0, 0, 0);
    vs_haze_free(&room.haze);
}

static void blockers_and_nets_multiply(void **state) {
    (void)state;
    room_model room;
    two_rooms(&room);
    const vs_vec3 first = {1.5, 2.5, 1}, second = {3, 2.5, 1}, east = {9, 2.5, 1};
    room_add_blocker(&room, vs_rect_facing(first, east, 0.5, 0.5), 0.6);
    room_add_blocker(&room, vs_rect_facing(second, east, 0.5, 0.5), 0.5);
    CHECK_NEAR(passage(&room, 1, 2.5, 1, 2, 2.5, 1).transmittance, 0.6, 1e-15, 0);
    CHECK_NEAR(passage(&room, 1, 2.5, 1, 6, 2.5, 1).transmittance, 0.3, 1e-15, 0);
    CHECK_NEAR(passage(&room, 1, 2.9, 1, 3.9, 2.9, 1).transmittance, 1, 0, 0);
    /* anything within the skin of an end does not obstruct: a lamp on a blocker shines from it */
    CHECK_NEAR(passage(&room, 1.5, 2.5, 1, 2, 2.5, 1).transmittance, 1, 0, 0);
    CHECK_NEAR(passage(&room, 1.5 - VS_SPACE_SKIN_M / 2, 2.5, 1, 2, 2.5, 1).transmittance, 1, 0, 0);
    CHECK_NEAR(passage(&room, 1.5 - 2 * VS_SPACE_SKIN_M, 2.5, 1, 2, 2.5, 1).transmittance, 0.6, 0,
               0);
    /* a point on a wall is seen from its room */
    CHECK_NEAR(passage(&room, 0, 1, 1, 3, 4, 2).transmittance, 1, 0, 0);
    vs_haze_free(&room.haze);
}

static void places_and_depths(void **state) {
    (void)state;
    room_model room;
    two_rooms(&room);
    const vs_vec3 in_first = {1, 1, 1}, in_second = {8, 1, 1}, nowhere = {20, 1, 1};
    const vs_vec3 on_wall = {0, 1, 1}, from = {3, 2.5, 1}, to = {6, 2.5, 1};
    CHECK_TRUE(vs_space_room_at(&room.space, in_first) == 0);
    CHECK_TRUE(vs_space_room_at(&room.space, in_second) == 1);
    CHECK_TRUE(vs_space_room_at(&room.space, nowhere) == VS_SPACE_OUTSIDE);
    CHECK_TRUE(vs_space_room_at(&room.space, on_wall) == 0);
    CHECK_NEAR(vs_space_optical_depth(&room.space, room.extinction_per_m, from, to),
               1 * 0.02 + 2 * 0.3, 1e-12, 0);
    CHECK_NEAR(vs_space_optical_depth(&room.space, room.extinction_per_m, from, nowhere),
               0.02 * sqrt(17 * 17 + 1.5 * 1.5) / 17 + 0.3 * 5 * sqrt(17 * 17 + 1.5 * 1.5) / 17,
               1e-12, 0);
    vs_haze_free(&room.haze);
}

/* A line from room to room, past a net, to the far wall. */
static void a_line_of_sight_in_pieces(void **state) {
    (void)state;
    room_model room;
    two_rooms(&room);
    const vs_vec3 net = {7, 2.5, 1}, back = {0, 2.5, 1}, camera = {1, 2.5, 1}, east = {1, 0, 0};
    room_add_blocker(&room, vs_rect_facing(net, back, 1, 1), 0.5);
    vs_camera_ray s = vs_camera_ray_along(&room.medium, camera, east, INFINITY);
    const double to_m[3] = {3, 6, 8}, depth[3] = {0, 0.06, 0.96}, open[3] = {1, 1, 0.5};
    CHECK_TRUE(s.segment_count == 3);
    for (int i = 0; i < 3; i++) {
        CHECK_NEAR(s.segment[i].to_m, to_m[i], 1e-12, 0);
        CHECK_NEAR(s.segment[i].depth, depth[i], 1e-12, 0);
        CHECK_NEAR(s.segment[i].open, open[i], 0, 0);
        CHECK_TRUE(s.segment[i].room == (i == 0 ? 0u : 1u));
    }
    CHECK_TRUE(s.end == VS_CAMERA_RAY_AT_WALL && s.end_index == 1);
    CHECK_NEAR(vs_camera_ray_transmission(&room.medium, &s).v[1], 0.5 * exp(-0.06 - 1.5), 1e-12, 0);
    room.blocker[0].transmittance = 0;
    s = vs_camera_ray_along(&room.medium, camera, east, INFINITY);
    CHECK_TRUE(s.end == VS_CAMERA_RAY_AT_BLOCKER && s.segment_count == 2);
    CHECK_NEAR(s.length_m, 6, 1e-12, 0);
    const vs_vec3 high_up = {1, 2.5, 2.5}, inside = {3, 1, 1}, window = {1.5, 2, 1.5};
    const vs_vec3 south = {0, -1, 0};
    s = vs_camera_ray_along(&room.medium, high_up, east, INFINITY);
    CHECK_TRUE(s.end == VS_CAMERA_RAY_AT_WALL && s.end_index == 0 && s.segment_count == 1);
    s = vs_camera_ray_to(&room.medium, camera, inside);
    CHECK_TRUE(s.end == VS_CAMERA_RAY_AT_POINT);
    CHECK_NEAR(s.length_m, 2.5, 1e-12, 0);
    s = vs_camera_ray_along(&room.medium, window, south, INFINITY);
    CHECK_TRUE(s.end == VS_CAMERA_RAY_OUTSIDE && s.end_index == 1);
    CHECK_NEAR(s.open, 0.8, 0, 0);
    vs_haze_free(&room.haze);
}

/* Transmission multiplies along a divided path (Beer-Lambert). */
static void transmission_multiplies(void **state) {
    (void)state;
    room_model room;
    two_rooms(&room);
    random_stream r = {62};
    for (int i = 0; i < 500; i++) {
        vs_vec3 p[2] = {{random_uniform(&r, 0.1, 8.9), random_uniform(&r, 0.1, 4.9),
                         random_uniform(&r, 0.1, 2.9)},
                        {random_uniform(&r, 0.1, 8.9), random_uniform(&r, 0.1, 4.9),
                         random_uniform(&r, 0.1, 2.9)}};
        vs_vec3 middle = vs_vec3_along(p[0], vs_vec3_sub(p[1], p[0]), random_uniform(&r, 0.1, 0.9));
        double whole = vs_space_optical_depth(&room.space, room.extinction_per_m, p[0], p[1]);
        double parts = vs_space_optical_depth(&room.space, room.extinction_per_m, p[0], middle) +
                       vs_space_optical_depth(&room.space, room.extinction_per_m, middle, p[1]);
        CHECK_NEAR(parts, whole, 1e-12, 1e-14);
        CHECK_NEAR(vs_space_passage(&room.space, p[0], middle).transmittance *
                       vs_space_passage(&room.space, middle, p[1]).transmittance,
                   vs_space_passage(&room.space, p[0], p[1]).transmittance, 0, 0);
    }
    vs_haze_free(&room.haze);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rectangles_face_their_aim),
        cmocka_unit_test(walls_stop_and_openings_open),
        cmocka_unit_test(blockers_and_nets_multiply),
        cmocka_unit_test(places_and_depths),
        cmocka_unit_test(a_line_of_sight_in_pieces),
        cmocka_unit_test(transmission_multiplies),
    };
    return RUN_TESTS(tests);
}
