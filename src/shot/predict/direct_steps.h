/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Direct light at all places of a shot in several densities at once. */
#ifndef VEILSTOP_SHOT_PREDICT_DIRECT_STEPS_H
#define VEILSTOP_SHOT_PREDICT_DIRECT_STEPS_H

#include "shot/sight/camera_setup.h"

/* Once-scattered veils and illuminances of a shot's points and wanted beams, light by light, as
 * predictions in those densities record them, within the accuracy of vs_airlight_fast_steps.
 *  room_per_m  count of them, 1 to VS_AIRLIGHT_STEPS_MAX: over 0 somewhere, one per room
 *  direct      out, count of them, each vs_note_count x lights, zero before
 * Errors: those of vs_predict_shot. */
VS_WARN_UNUSED vs_status vs_predict_direct(vs_predictor *predictor, size_t shot,
                                           double *const *room_per_m, vs_bands *const *direct,
                                           size_t count);

#endif
