/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The haze of one of the linked rooms looked ahead: where it peaks, when it reaches a mass, what
 * bursts do to it. Cheap: a few exponentials per question, whatever the other rooms do. */
#ifndef VEILSTOP_AIR_ROOMS_TRACE_H
#define VEILSTOP_AIR_ROOMS_TRACE_H

#include "veilstop/air/rooms.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A room's mixed mass as a sum of parts that each decay at their own rate, and the haze not mixed
 *  in yet. A plain value: it may be copied and kept. */
typedef struct {
    size_t count;                    /* of parts */
    double mixing_per_s;             /* 0: at once */
    double rate_per_s[VS_ROOMS_MAX]; /* one per part */
    double gain[VS_ROOMS_MAX];       /* what a gram of new haze adds to each part */
    double part_g[VS_ROOMS_MAX];     /* now */
    double unmixed_g;
    double exposure_g_s; /* time integral of the room's mass since the trace began */
} vs_rooms_trace;

/** Begins the trace of a room at a state; what is done to the trace does not change the state. */
void vs_rooms_trace_begin(const vs_rooms_model *model, const double *state, size_t room,
                          vs_rooms_trace *trace);

/** The room's mixed mass now [g]. */
double vs_rooms_trace_mass_g(const vs_rooms_trace *trace);

/** A time step with constant output, made once and used any number of times. */
typedef struct {
    double keep[VS_ROOMS_MAX], from_unmixed[VS_ROOMS_MAX], from_output[VS_ROOMS_MAX];
    double sum_keep[VS_ROOMS_MAX], sum_from_unmixed, sum_from_output; /* the same of the exposure */
    double keep_unmixed, unmixed_from_output;
} vs_rooms_step;

/** trace  the one whose rates the step is for; its amounts do not matter
 *  output_g_per_s  0 or over
 *  length_s        0 or over; other values make the traces it is used on NaN */
void vs_rooms_step_make(const vs_rooms_trace *trace, double output_g_per_s, double length_s,
                        vs_rooms_step *step);
void vs_rooms_trace_take(vs_rooms_trace *trace, const vs_rooms_step *step);

/** The same in one call, for steps used only once. */
void vs_rooms_trace_advance(vs_rooms_trace *trace, double output_g_per_s, double length_s);

/** The highest mixed mass [g] the room will reach from now on with the hazer off, and when.
 *  horizon_s  how far to look, over 0
 *  after_s    out, time from now [s]; may be NULL
 *  Method: a scan in steps that grow by 12 %, until the remaining parts cannot lift the mass over
 *  the best seen, then false position on the slope.  Checked: tests/unit/test_rooms.c */
double vs_rooms_peak_g(const vs_rooms_trace *trace, double horizon_s, double *after_s);

/** Time [s] until the room's mixed mass is at or below mass_g and stays there, with the hazer off:
 *  0 if it already is, NaN if not within horizon_s.  Method: as for the peak. */
double vs_rooms_fall_s(const vs_rooms_trace *trace, double mass_g, double horizon_s);

/** Time [s] until the room's mixed mass first reaches mass_g from below, at a constant output: 0
 *  if it already has, NaN if not within horizon_s.  Method: as for the peak. */
double vs_rooms_rise_s(const vs_rooms_trace *trace, double output_g_per_s, double mass_g,
                       double horizon_s);

#ifdef __cplusplus
}
#endif
#endif
