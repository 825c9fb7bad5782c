/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places in words: three lengths, a corner of a room or an opening, a point of a shot. */
#ifndef VEILSTOP_ASK_PLACES_H
#define VEILSTOP_ASK_PLACES_H

#include "ask/scene_args.h"

/* Three lengths separated by commas, numbers in `units`; false for anything else. */
bool vs_ask_position_read(const char *text, vs_length_unit units, vs_vec3 *at_m);

/* The same, or "corner:[ROOM:]floor-west-north", "opening:NAME:bottom-north", "point:NAME".
 * room  of a corner that names none
 * why   out, for anything else: what would be right, as a clause; borrowed until the next call */
bool vs_ask_place_read(const char *text, const vs_ask_scene *scene, const vs_scene_shot *shot,
                       size_t room, vs_vec3 *at_m, vs_text *why);

#endif
