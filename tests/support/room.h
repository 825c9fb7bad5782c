/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Small locations for the tests of light: one or two boxes, grey Henyey-Greenstein haze. */
#ifndef VEILSTOP_TESTS_ROOM_H
#define VEILSTOP_TESTS_ROOM_H

#include "veilstop/base/units.h"
#include "veilstop/light/airlight.h"

#define ROOM_MAX 4

/* Owns nothing; the medium points into it, so it must not be moved. */
typedef struct {
    vs_box box[ROOM_MAX];
    vs_opening opening[ROOM_MAX];
    vs_blocker blocker[ROOM_MAX];
    double extinction_per_m[ROOM_MAX];
    vs_space space;
    vs_haze haze;
    vs_medium medium;
} room_model;

/* One room from low to high, with haze of one extinction and asymmetry g. */
void room_make(room_model *room, vs_vec3 low_m, vs_vec3 high_m, double extinction_per_m, double g);
/* Adds a room next to the others, an opening, a blocker. */
void room_add_box(room_model *room, vs_vec3 low_m, vs_vec3 high_m, double extinction_per_m);
void room_add_opening(room_model *room, vs_vec3 corner_m, vs_vec3 opposite_m, size_t a, size_t b,
                      double transmittance);
void room_add_blocker(room_model *room, vs_rect rect, double transmittance);

/* An emitter of one kind in that room; fails the test where it cannot be made. */
vs_emitter room_lamp(const room_model *room, vs_vec3 at_m, double candela);
vs_emitter room_spot(const room_model *room, vs_vec3 at_m, vs_vec3 aim_m, double candela,
                     double beam_deg, double field_deg);
vs_emitter room_panel(const room_model *room, vs_vec3 at_m, vs_vec3 aim_m, double width_m,
                      double height_m, double nits);
vs_emitter room_tube(const room_model *room, vs_vec3 from_m, vs_vec3 to_m, double lumens);
vs_emitter room_sun(const room_model *room, size_t opening, vs_vec3 travel, double lux);
vs_emitter room_sky(const room_model *room, size_t opening, double nits);

#endif
