/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The steady hold: the density that every room approaches while a hazer keeps one of them at its
 * density. */
#ifndef VEILSTOP_AIR_ROOMS_STEADY_H
#define VEILSTOP_AIR_ROOMS_STEADY_H

#include "veilstop/air/rooms.h"
#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Density of each room over that of `room`, in the steady state.
 *  rooms   borrowed; its hazer and mixing do not matter
 *  source  [any unit of mass over time] one per room, 0 or over: what is emitted into each; only
 *          the shares matter
 *  room    index of the room that is held
 *  ratio   out, one per room; 1 for `room`; NaN throughout on an error
 *  Errors: VS_ERR_DOMAIN for values outside the ranges, or a room that takes in haze and loses
 *  none; VS_ERR_UNREACHABLE where no path through openings leads from a source to `room`;
 *  VS_ERR_MEMORY.
 *  Method: V_i loss_i c_i + sum_k Q_ik (c_i - c_k) = source_i, solved by elimination with `room`
 *  last, by the rule of Grassmann, Taksar and Heyman (1985, Oper. Res. 33, 1107): pivots are sums
 *  of losses and exchanges, nothing is subtracted, so each ratio is exact to rounding, and rooms
 *  that lose nothing come out alike.  Leaves out: bursts, which make each room swing about its
 *  mean.
 *  Checked: tests/unit/test_rooms_steady.c */
VS_WARN_UNUSED vs_status vs_rooms_steady(const vs_rooms *rooms, const double *source, size_t room,
                                         double *ratio);

#ifdef __cplusplus
}
#endif
#endif
