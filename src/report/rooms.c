/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/report/rooms.h"

#include <math.h>

#include "veilstop/report/style.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/held.h"

#define FAR_M 100.0 /* [m] longer than a stage, farther than a lamp is carried: our choice */

void vs_report_rooms_json(vs_json *json, const vs_scene *scene,
                          const double *room_extinction_per_m) {
    vs_json_open_object(json, "extinction_by_room");
    for (size_t r = 0; r < scene->room_count; r++) {
        vs_json_number(json, scene->room[r].name, room_extinction_per_m[r]);
    }
    vs_json_close_object(json);
}

bool vs_report_other_rooms(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                           const double *room_extinction_per_m) {
    double here = room_extinction_per_m[vs_held_room(scene, shot)];
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
                 vs_style_number(room_extinction_per_m[vs_held_room(scene, shot)], here));
    return true;
}

void vs_report_too_weak(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                        double asked_per_m, double most_per_m) {
    bool several = scene->hazer.machine_count > 1;
    vs_text_addf(out, "%s cannot keep ", several ? "the hazers" : "the hazer");
    vs_report_density(out, asked_per_m);
    vs_text_addf(out, " in %s: always on, %s to ", scene->room[vs_held_room(scene, shot)].name,
                 several ? "they get" : "it gets");
    vs_report_density(out, most_per_m);
    vs_text_addf(out, " and no further");
}

void vs_report_no_way(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot) {
    vs_text_addf(out, "no haze gets from %s to %s: open a door between them",
                 scene->hazer.machine_count > 1 ? "any hazer" : scene->room[scene->hazer.room].name,
                 scene->room[vs_held_room(scene, shot)].name);
}

static double far_m(vs_vec3 p_m, const vs_scene_room *room) {
    vs_vec3 low_m = vs_vec3_sub(room->corner_m, p_m);
    vs_vec3 high_m = vs_vec3_sub(p_m, vs_vec3_add(room->corner_m, room->size_m));
    vs_vec3 out_m = {fmax(0, fmax(low_m.x, high_m.x)), fmax(0, fmax(low_m.y, high_m.y)),
                     fmax(0, fmax(low_m.z, high_m.z))};
    return vs_vec3_length(out_m);
}

/* How far a lamp stands from the nearest room; 0 for light that has no place, as the sun's. */
static double lamp_far_m(const vs_scene *scene, const vs_light *light) {
    if (light->kind == VS_LIGHT_SUN || light->kind == VS_LIGHT_SKY) {
        return 0;
    }
    double least_m = INFINITY;
    for (size_t r = 0; r < scene->room_count; r++) {
        least_m = fmin(least_m, far_m(light->at_m, &scene->room[r]));
    }
    return least_m;
}

bool vs_report_size_doubt(vs_text *out, const vs_style *style, const vs_scene *scene) {
    const char *unit = vs_style_length_unit(style);
    const char *written = scene->lengths == VS_LENGTH_FT ? "ft" : "m";
    for (size_t r = 0; r < scene->room_count; r++) {
        vs_vec3 size_m = scene->room[r].size_m;
        if (fmax(size_m.x, fmax(size_m.y, size_m.z)) > FAR_M) {
            vs_text_addf(out,
                         "%s is %.3g x %.3g x %.3g %s: is every length in the unit meant? One "
                         "without a unit is in %s.",
                         scene->room[r].name, vs_style_length(style, size_m.x),
                         vs_style_length(style, size_m.y), vs_style_length(style, size_m.z), unit,
                         written);
            return true;
        }
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        double away_m = lamp_far_m(scene, &scene->light[i]);
        if (away_m > FAR_M) {
            vs_text_addf(out,
                         "%s stands %.3g %s from every room: is its place in the unit meant? A "
                         "length without a unit is in %s.",
                         scene->light[i].name, vs_style_length(style, away_m), unit, written);
            return true;
        }
    }
    return false;
}
