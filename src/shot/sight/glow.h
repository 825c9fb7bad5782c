/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The glow around a light in frame. */
#ifndef VEILSTOP_SHOT_SIGHT_GLOW_H
#define VEILSTOP_SHOT_SIGHT_GLOW_H

#include "shot/sight/camera_setup.h"

/* The extent of the glow around a light seen at `at`. */
vs_status vs_camera_setup_glow(const vs_camera_setup *setup, const vs_emitter *emitter,
                               vs_vec3 at_m, vs_glow_prediction *glow);

#endif
