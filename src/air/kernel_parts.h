/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of a room's trace at a later moment, eight at a time. Private to src/air. */
#ifndef VEILSTOP_AIR_KERNEL_PARTS_H
#define VEILSTOP_AIR_KERNEL_PARTS_H

#include "base/vector.h"
#include "veilstop/air/rooms_trace.h"

/* Sums over the parts. */
typedef struct {
    double mass_g, lost_g_per_s; /* lost: loss: rate x part */
    double most_g;               /* of the parts that are not negative */
    double gain, best_gain;      /* all gains; those over 0 */
} vs_parts_then;

/* The parts after a time at a constant output.
 * unmixed_kept  [1] share of the unmixed haze left after that time
 * Within 1e-11 of the sum of the parts' magnitudes of what decays.h gives: tests/unit/test_rooms.c
 */
vs_parts_then vs_parts_at(const vs_rooms_trace *trace, double unmixed_kept, double output_g_per_s,
                          double length_s);

/* The effect of a time step on each part: all of a step but the unmixed haze. */
void vs_parts_step(const vs_rooms_trace *trace, double unmixed_kept, double output_g_per_s,
                   double length_s, vs_rooms_step *step);

#endif
