/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The data from which cautions are calculated, as one set: limits, detectors, exits, notices.
 * A file, a test or a page may fill it; scene/safety_file.h reads it from the data files. */
#ifndef VEILSTOP_SAFETY_TABLES_H
#define VEILSTOP_SAFETY_TABLES_H

#include <stddef.h>

#include "veilstop/safety/detectors.h"
#include "veilstop/safety/exits.h"
#include "veilstop/safety/exposure.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_SAFETY_CLASS_COUNT 3 /* classes of fluid, numbered as in vs_fluid_class */

/** Extinction of a gram of droplets of a class of fluid when their size is unknown. */
typedef struct {
    double low_m2_per_g, high_m2_per_g;
    vs_source_status status;
    const char *source;
} vs_class_extinction;

/** One line of the checklist. Borrowed texts. */
typedef struct {
    const char *when, *who, *text;
    unsigned fluids; /* bit i: applies to fluids of class i */
    vs_source_status status;
    const char *source;
} vs_notice;

static inline bool vs_notice_is_for(const vs_notice *notice, unsigned fluid_class) {
    return (notice->fluids >> fluid_class & 1u) != 0;
}

/** Borrowed arrays. */
typedef struct {
    const vs_exposure_limit *limit;
    size_t limit_count;
    vs_class_extinction class_extinction[VS_SAFETY_CLASS_COUNT];
    vs_detector_type detector[VS_DETECTOR_KIND_COUNT];
    const vs_exit_criterion *exit; /* at least one; the first is for unfamiliar places */
    size_t exit_count;
    const vs_notice *notice; /* in the order of time */
    size_t notice_count;
} vs_safety_tables;

#ifdef __cplusplus
}
#endif
#endif
