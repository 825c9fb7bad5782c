/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lights of a shot as emitters: with the shot's settings and their gels, fed panels with the
 * luminance their feeds give them. */
#ifndef VEILSTOP_SHOT_SCENE_EMITTERS_H
#define VEILSTOP_SHOT_SCENE_EMITTERS_H

#include <stdbool.h>

#include "veilstop/shot/scene_geometry.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Prepares the lights of a shot in the haze of `medium` (which dims the light on fed panels).
 *  dim      a factor on each light's output, one per light of the scene; parts follow their whole
 *  emitter  out, one per light of the scene; those the shot does not use are dark (strength 0)
 *  Errors: those of vs_emitter_init and vs_illuminance; VS_ERR_INPUT if feeds form a loop. */
VS_WARN_UNUSED vs_status vs_scene_emitters(const vs_scene_geometry *geometry,
                                           const vs_scene_shot *shot, const vs_medium *medium,
                                           const double *dim, vs_airlight *work,
                                           vs_emitter *emitter);

/** Whether a shot uses a light. */
bool vs_shot_uses_light(const vs_scene_shot *shot, size_t light);

/** The light to which a part belongs; for any other light, itself. */
size_t vs_light_whole(const vs_scene *scene, size_t light);

/** A light as a shot sets it: its dimmer, its sun's position. */
vs_light vs_light_in_shot(const vs_scene *scene, const vs_scene_shot *shot, size_t light);

/** Whether a light is the lamp or a panel that it feeds, directly or through others. */
bool vs_light_follows(const vs_scene *scene, size_t light, size_t lamp);

#ifdef __cplusplus
}
#endif
#endif
