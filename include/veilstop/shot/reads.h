/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How well a beam reads against what is behind it. */
#ifndef VEILSTOP_SHOT_READS_H
#define VEILSTOP_SHOT_READS_H

#ifdef __cplusplus
extern "C" {
#endif

/* [stops] over its background from which a beam reads like this; docs/output.md, "Answers". Common
 * practice, no source. */
#define VS_READS_BARELY_STOPS 0.03
#define VS_READS_SOFT_STOPS   0.07
#define VS_READS_CLEAR_STOPS  0.25
#define VS_READS_STRONG_STOPS 1.0

/** How a beam reads. */
typedef enum {
    VS_READS_NOT,
    VS_READS_BARELY,
    VS_READS_SOFT,
    VS_READS_CLEAR,
    VS_READS_STRONG
} vs_reads;

/** How a beam reads that is this many stops over its background; NaN: not. */
vs_reads vs_reads_of(double over_stops);

#ifdef __cplusplus
}
#endif
#endif
