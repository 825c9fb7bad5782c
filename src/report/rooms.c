/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/report/rooms.h"

#include "veilstop/report/style.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/dwell.h"
#include "veilstop/shot/held.h"

void vs_report_rooms_json(vs_json *json, const vs_scene *scene,
                          const double *room_extinction_per_m) {
    vs_json_open_object(json, "extinction_by_room");
    for (size_t r = 0; r < scene->room_count; r++) {
        vs_json_number(json, scene->room[r].name, room_extinction_per_m[r]);
    }
    vs_json_close_object(json);
}

static size_t room_in_view(const vs_scene *scene, const vs_scene_shot *shot) {
    size_t room = vs_dwell_room_at(scene, scene->camera[shot->camera].at_m);
    return room == VS_OUTSIDE ? 0 : room;
}

bool vs_report_other_rooms(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                           const double *room_extinction_per_m) {
    double here = room_extinction_per_m[room_in_view(scene, shot)];
    bool any = false;
    for (size_t r = 0; r < scene->room_count; r++) {
        char number[16];
        if (room_extinction_per_m[r] != here) {
            vs_text_addf(out, "%s%s %s /m", any ? ", " : "", scene->room[r].name,
                         vs_style_number(room_extinction_per_m[r], number));
            any = true;
        }
    }
    return any;
}

bool vs_report_thicker_room(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                            const double *room_extinction_per_m) {
    size_t thicker = vs_held_thicker(scene, shot, room_extinction_per_m);
    if (thicker == VS_NONE) {
        return false;
    }
    char there[16], here[16];
    vs_text_addf(out, "%s is thicker than the room in view: %s /m against %s",
                 scene->room[thicker].name, vs_style_number(room_extinction_per_m[thicker], there),
                 vs_style_number(room_extinction_per_m[room_in_view(scene, shot)], here));
    return true;
}

void vs_report_too_weak(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                        double asked_per_m, double most_per_m) {
    bool several = scene->hazer.machine_count > 1;
    vs_text_addf(out, "%s cannot keep ", several ? "the hazers" : "the hazer");
    vs_report_density(out, asked_per_m);
    vs_text_addf(out, " in %s: always on, %s to ", scene->room[room_in_view(scene, shot)].name,
                 several ? "they get" : "it gets");
    vs_report_density(out, most_per_m);
    vs_text_addf(out, " and no further");
}

void vs_report_no_way(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot) {
    vs_text_addf(out, "no haze gets from %s to %s: open a door between them",
                 scene->hazer.machine_count > 1 ? "any hazer" : scene->room[scene->hazer.room].name,
                 scene->room[room_in_view(scene, shot)].name);
}
