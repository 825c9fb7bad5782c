/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people breathe against what laws, guidance and advice allow: averages over a shift, short
 * averages, peaks. The limits themselves come from data/limits.json, each with its source. */
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
    VS_AVERAGE_SHIFT, /* over a working day of length_s; lower for longer ones */
    VS_AVERAGE_SHORT, /* over any length_s */
    VS_AVERAGE_PEAK   /* at any moment */
} vs_average;
#define VS_AVERAGE_COUNT (VS_AVERAGE_PEAK + 1)
extern const char *const vs_average_words[VS_AVERAGE_COUNT];

/** One limit. Borrowed texts. */
typedef struct {
    const char *name;
    unsigned fluids; /* bit i: for fluids of class number i, as the caller numbers them */
    vs_average average;
    double length_s; /* 0 for a peak */
    double limit_g_per_m3;
    vs_limit_kind kind;
    vs_source_status status;
    const char *source;
    const char *remark; /* what it holds for or counts; NULL: nothing to say */
} vs_exposure_limit;

static inline bool vs_exposure_limit_is_for(const vs_exposure_limit *limit, unsigned fluid_class) {
    return (limit->fluids >> fluid_class & 1u) != 0;
}

/** The limit for someone who works shift_s [g/m3]: an average over a shift is lowered by its length
 *  over the shift's where that is longer (a limit for 8 h counts 8/12 on a day of 12 h); usual
 *  practice, worked out from the same dose in a day. Others stand as they are.
 *  Checked: tests/unit/test_exposure.c */
double vs_exposure_limit_g_per_m3(const vs_exposure_limit *limit, double shift_s);

/** What someone breathes who works shift_s, in the worst stretch of that length [as the curve]:
 *  the mean over the shift, the highest mean over the limit's length, or the peak.
 *  A shift shorter than the limit's length gets no credit for the hours after it; the figure with
 *  that credit is vs_exposure_spread. Of a short average and a shift shorter still, the shift
 *  counts.
 *  Checked: tests/unit/test_exposure.c */
double vs_exposure_over(const vs_exposure_limit *limit, const vs_day_curve *curve, double shift_s);

/** The same dose spread over the limit's own length, nothing breathed outside the shift: differs
 *  only for averages over a shift that is shorter; NaN for all others. */
double vs_exposure_spread(const vs_exposure_limit *limit, const vs_day_curve *curve,
                          double shift_s);

#ifdef __cplusplus
}
#endif
#endif
