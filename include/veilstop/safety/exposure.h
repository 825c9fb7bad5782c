/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people breathe, compared with what law, guidance and advice allow: averages over a shift,
 * short averages, peaks. The limits come from data/limits.json, each with its source. */
#ifndef VEILSTOP_SAFETY_EXPOSURE_H
#define VEILSTOP_SAFETY_EXPOSURE_H

#include <stdbool.h>

#include "veilstop/base/source.h"
#include "veilstop/safety/day_curve.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_LIMIT_LAW, VS_LIMIT_GUIDANCE, VS_LIMIT_ADVICE } vs_limit_kind;
#define VS_LIMIT_KIND_COUNT (VS_LIMIT_ADVICE + 1)
/** Their words in files, in the order of the enum. */
extern const char *const vs_limit_kind_words[VS_LIMIT_KIND_COUNT];

typedef enum {
    VS_AVERAGE_SHIFT, /* over a working day of length_s; lower for longer days */
    VS_AVERAGE_SHORT, /* over any length_s */
    VS_AVERAGE_PEAK   /* at any moment */
} vs_average;
#define VS_AVERAGE_COUNT (VS_AVERAGE_PEAK + 1)
extern const char *const vs_average_words[VS_AVERAGE_COUNT];

/** One limit. Borrowed texts. */
typedef struct {
    const char *name;
    unsigned fluids; /* bit i: applies to fluids of class i, in the caller's numbering */
    vs_average average;
    double length_s; /* 0 for a peak */
    double limit_g_per_m3;
    vs_limit_kind kind;
    vs_source_status status;
    const char *source;
    const char *remark; /* what it covers or counts; NULL: none */
} vs_exposure_limit;

static inline bool vs_exposure_limit_is_for(const vs_exposure_limit *limit, unsigned fluid_class) {
    return (limit->fluids >> fluid_class & 1u) != 0;
}

/** The limit for someone who works shift_s [g/m3]: an average over a shift is scaled by its length
 *  over that of a longer shift (a limit for 8 h counts 8/12 on a day of 12 h): usual practice,
 *  derived from an equal dose per day. Others are unchanged.
 *  Checked: tests/unit/test_exposure.c */
double vs_exposure_limit_g_per_m3(const vs_exposure_limit *limit, double shift_s);

/** What someone who works shift_s breathes in the worst period of that length [unit of the curve]:
 *  the mean over the shift, the highest mean over the limit's length, or the peak.
 *  A shift shorter than the limit's length gets no credit for the hours after it;
 *  vs_exposure_spread gives that credit. If the shift is shorter than a short average's length, the
 *  shift counts.
 *  Checked: tests/unit/test_exposure.c */
double vs_exposure_over(const vs_exposure_limit *limit, const vs_day_curve *curve, double shift_s);

/** The same dose spread over the limit's own length, with nothing breathed outside the shift.
 *  Applies only to shift averages and shorter shifts; NaN for all others. */
double vs_exposure_spread(const vs_exposure_limit *limit, const vs_day_curve *curve,
                          double shift_s);

#ifdef __cplusplus
}
#endif
#endif
