/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A beam looked at from place to place along its axis: where it reads, and where it reads best. */
#ifndef VEILSTOP_SHOT_SIGHT_BEAM_AXIS_H
#define VEILSTOP_SHOT_SIGHT_BEAM_AXIS_H

#include "shot/sight/beam.h"

/* The longest run of the axis of one part of a light at which it reads: reads_from_m, reads_to_m.
 */
vs_status vs_camera_setup_beam_reads(const vs_camera_setup *setup, size_t part,
                                     vs_beam_prediction *beam);

#endif
