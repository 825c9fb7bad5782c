/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What boards and nets in a room let through between a line of sight, or a place, and what it sees.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_PAST_BLOCKERS_H
#define VEILSTOP_LIGHT_BOUNCE_PAST_BLOCKERS_H

#include "light/bounce/gather.h"
#include "light/mesh/room_view.h"

/* Widens a range to a place. */
LANES_INLINE void range_to(float at, float *low, float *high) {
    *low = single_min(*low, at);
    *high = single_max(*high, at);
}

/* Whether places in a range on one of a blocker's axes and the segment lie all on one side of it: it
 * hides nothing of them. */
LANES_INLINE bool all_beside(const vs_gather_blocker *b, int axis, float low, float high) {
    return single_min(low, b->line_low[axis]) >= b->high[axis] ||
           single_max(high, b->line_high[axis]) <= b->low[axis];
}

/* Scales `open` by what a blocker lets through from eight places to eight on the line.
 *     at  of the places, on its axes   line_m  from the line's start */
LANES_INLINE void past_blocker(const vs_gather_blocker *b, float at[3][LANES], const float *line_m,
                               float *open) {
    const float skin = (float)VS_SPACE_SKIN_M, stopped = b->stopped;
    const float start[3] = {b->start[0], b->start[1], b->start[2]};
    const float along[3] = {b->along[0], b->along[1], b->along[2]};
    const float low[2] = {b->low[0], b->low[1]}, high[2] = {b->high[0], b->high[1]};
    EACH_LANE(l) {
        float side = at[2][l] < 0 ? -1 : 1, off = side * at[2][l];
        float past = -side * (start[2] + line_m[l] * along[2]);
        float t = off / single_max(off + past, off + skin);
        float u = at[0][l] + t * (start[0] + line_m[l] * along[0] - at[0][l]);
        float v = at[1][l] + t * (start[1] + line_m[l] * along[1] - at[1][l]);
        float in = lane_within(past, skin, skin, SINGLE_FAR) *
                   lane_within(u, skin, low[0], high[0]) * lane_within(v, skin, low[1], high[1]);
        open[l] *= 1 - (off > skin ? stopped * in : 0);
    }
}

#endif
