/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density of every room while a shot's own density is in its camera's room. All questions about
 * a shot (predict, choose, grade, trust, dwell, cautions) use it. */
#ifndef VEILSTOP_SHOT_HELD_H
#define VEILSTOP_SHOT_HELD_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/optics/haze.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The room that a shot's density is of: its camera's; the first if the camera is in none. */
size_t vs_held_room(const vs_scene *scene, const vs_scene_shot *shot);

/** The extinction of each room [1/m at 549 nm] for a shot.
 *  haze                   of the scene's fluid
 *  extinction_per_m       in the camera's room, 0 or over; NaN: the shot's own
 *  room_extinction_per_m  out, one per room; NaN throughout on an error
 *  Errors: VS_ERR_INPUT if the shot's own is needed but open; VS_ERR_MEMORY; VS_ERR_DOMAIN for
 *  rooms that the air model cannot follow (dwell.h).
 *  Method: a shot that gives its rooms densities of their own keeps their ratios. Otherwise, with a
 *  hazer, each room has the density it settles at while the camera's room is held (the steady hold,
 *  air/rooms_steady.h), with openings as the shot sets them and several hazers by their shares;
 *  without a hazer, or if no opening leads its haze to the camera's room, every room has the same.
 *  Checked: tests/unit/test_held.c, against closed forms and against the rooms followed until
 *  nothing changes. */
VS_WARN_UNUSED vs_status vs_held_rooms(const vs_scene *scene, const vs_scene_shot *shot,
                                       const vs_haze *haze, double extinction_per_m,
                                       double *room_extinction_per_m);

/** Whether a hazer's haze reaches the room of a shot's camera, through openings as the shot sets
 *  them; false without a hazer.
 *  Errors: VS_ERR_MEMORY, VS_ERR_DOMAIN; *reaches is then false. */
VS_WARN_UNUSED vs_status vs_held_reaches(const vs_scene *scene, const vs_scene_shot *shot,
                                         bool *reaches);

/** The thickest room, if it is not the camera's; VS_NONE if it is. */
size_t vs_held_thicker(const vs_scene *scene, const vs_scene_shot *shot,
                       const double *room_extinction_per_m);

/** The least haze [1/m] that counts as haze: the larger of VS_HELD_LEAST_PER_M and the density in
 *  the camera's room (by the steady hold's ratios) after the shortest burst, spread evenly in the
 *  rooms with hazers.
 *  Errors: as vs_held_rooms; *least_per_m is then NaN. */
#define VS_HELD_LEAST_PER_M 0.0002 /* [1/m] about 20 km of visible range, clear air; our choice */
VS_WARN_UNUSED vs_status vs_held_least(const vs_scene *scene, const vs_scene_shot *shot,
                                       const vs_haze *haze, double *least_per_m);

/** The most haze that the hazers can keep in the room of a shot's camera: what it settles at with
 *  them always on, everywhere mixed.
 *  g_per_m3  out [g/m3] of droplets; INFINITY without a hazer, if nothing is lost, or if no haze
 *            gets there; NaN on an error
 *  Errors: VS_ERR_MEMORY, VS_ERR_DOMAIN.
 *  Method: output over what the rooms lose together at the steady hold's ratios.
 *  Checked: tests/unit/test_held.c, a mass balance by hand, and against the plan of a day. */
VS_WARN_UNUSED vs_status vs_held_most_g_per_m3(const vs_scene *scene, const vs_scene_shot *shot,
                                               double *g_per_m3);

#ifdef __cplusplus
}
#endif
#endif
