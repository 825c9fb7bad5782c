/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See room.h. */
#include "room.h"

#include <string.h>

#include "check.h"
#include "parts.h"

static void refresh(room_model *room) {
    room->space.room = room->box;
    room->space.opening = room->opening;
    room->space.blocker = room->blocker;
    room->medium = vs_medium_make(&room->space, &room->haze, room->extinction_per_m);
}

void room_make(room_model *room, vs_vec3 low_m, vs_vec3 high_m, double extinction_per_m, double g) {
    memset(room, 0, sizeof *room);
    vs_fluid fluid = parts_fluid(g);
    CHECK_OK(vs_haze_init(&room->haze, &fluid));
    room_add_box(room, low_m, high_m, extinction_per_m);
}

void room_add_box(room_model *room, vs_vec3 low_m, vs_vec3 high_m, double extinction_per_m) {
    vs_box box = {low_m, high_m};
    room->extinction_per_m[room->space.room_count] = extinction_per_m;
    room->box[room->space.room_count++] = box;
    refresh(room);
}

void room_add_opening(room_model *room, vs_vec3 corner_m, vs_vec3 opposite_m, size_t a, size_t b,
                      double transmittance) {
    vs_opening opening = {vs_rect_on_wall(corner_m, opposite_m), {a, b}, transmittance};
    room->opening[room->space.opening_count++] = opening;
    refresh(room);
}

void room_add_blocker(room_model *room, vs_rect rect, double transmittance) {
    vs_blocker blocker = {rect, transmittance};
    room->blocker[room->space.blocker_count++] = blocker;
    refresh(room);
}

static vs_emitter ready(const room_model *room, const vs_light *light) {
    vs_emitter emitter;
    vs_light lit = *light;
    lit.on = true;
    lit.dimmer = 1;
    CHECK_OK(vs_emitter_init(&emitter, &lit, &room->space, 5600));
    return emitter;
}

vs_emitter room_lamp(const room_model *room, vs_vec3 at_m, double candela) {
    vs_light light = {.kind = VS_LIGHT_LAMP, .value = candela, .at_m = at_m};
    return ready(room, &light);
}

vs_emitter room_spot(const room_model *room, vs_vec3 at_m, vs_vec3 aim_m, double candela,
                     double beam_deg, double field_deg) {
    vs_light light = {.kind = VS_LIGHT_SPOT,
                      .value = candela,
                      .at_m = at_m,
                      .aim_m = aim_m,
                      .beam_rad = beam_deg * VS_RAD_PER_DEG,
                      .field_rad = field_deg * VS_RAD_PER_DEG};
    return ready(room, &light);
}

vs_emitter room_panel(const room_model *room, vs_vec3 at_m, vs_vec3 aim_m, double width_m,
                      double height_m, double nits) {
    vs_light light = {.kind = VS_LIGHT_PANEL,
                      .strength = VS_STRENGTH_NITS,
                      .value = nits,
                      .at_m = at_m,
                      .aim_m = aim_m,
                      .width_m = width_m,
                      .height_m = height_m};
    return ready(room, &light);
}

vs_emitter room_tube(const room_model *room, vs_vec3 from_m, vs_vec3 to_m, double lumens) {
    vs_light light = {.kind = VS_LIGHT_TUBE,
                      .strength = VS_STRENGTH_LUMENS,
                      .value = lumens,
                      .at_m = from_m,
                      .aim_m = to_m};
    return ready(room, &light);
}

vs_emitter room_sun(const room_model *room, size_t opening, vs_vec3 travel, double lux) {
    vs_light light = {.kind = VS_LIGHT_SUN,
                      .strength = VS_STRENGTH_LUX,
                      .value = lux,
                      .travel = vs_vec3_unit(travel),
                      .through = opening};
    return ready(room, &light);
}

vs_emitter room_sky(const room_model *room, size_t opening, double nits) {
    vs_light light = {
        .kind = VS_LIGHT_SKY, .strength = VS_STRENGTH_NITS, .value = nits, .through = opening};
    return ready(room, &light);
}
