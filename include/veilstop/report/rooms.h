/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is said of a scene's rooms, worded alike by all commands: their densities while a shot's is in
 * its camera's room, what the hazers cannot do there, and lengths that look like another unit. */
#ifndef VEILSTOP_REPORT_ROOMS_H
#define VEILSTOP_REPORT_ROOMS_H

#include <stdbool.h>

#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Writes `extinction_by_room` into an open object.
 *  room_extinction_per_m  one per room, as in held.h */
void vs_report_rooms_json(vs_json *json, const vs_scene *scene,
                          const double *room_extinction_per_m);

/** Adds "passage 0.0175 /m, loading bay 0.0028 /m": the rooms whose density differs from the
 *  camera's; false, and nothing, if there are none. */
bool vs_report_other_rooms(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                           const double *room_extinction_per_m);

/** Adds "passage is thicker than the room in view: 0.08 /m against 0.03"; false, and nothing, if
 *  none is. */
bool vs_report_thicker_room(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                            const double *room_extinction_per_m);

/** Adds "the hazer cannot keep 0.0685 /m in nave: always on, it gets to 0.0599 /m and no
 *  further". */
void vs_report_too_weak(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot,
                        double asked_per_m, double most_per_m);

/** Adds "no haze gets from store to hall: open a door between them", said by every command if no
 *  opening leads the hazer's haze to a shot's camera. */
void vs_report_no_way(vs_text *out, const vs_scene *scene, const vs_scene_shot *shot);

/** Adds "hall is 600 x 400 x 270 m: is every length in the unit meant? One without a unit is in m."
 *  where a room is over 100 m long, or "key stands 480 m from every room: ..." where a lamp does: a
 *  file whose lengths are centimetres looks like that. Only the first of them.
 *  @return whether anything was added */
bool vs_report_size_doubt(vs_text *out, const vs_style *style, const vs_scene *scene);

#ifdef __cplusplus
}
#endif
#endif
