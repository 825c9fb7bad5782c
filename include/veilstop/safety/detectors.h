/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Smoke detectors: the obscuration of haze in the units of their data sheets, and the thresholds at
 * which they alarm.
 * Sources: EN 54-7 (dB/m), UL 268 (%/ft); Bouguer's law. Thresholds come from data/detectors.json.
 */
#ifndef VEILSTOP_SAFETY_DETECTORS_H
#define VEILSTOP_SAFETY_DETECTORS_H

#include <stddef.h>

#include "veilstop/base/source.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef enum {
    VS_DETECTOR_POINT, /* optical */
    VS_DETECTOR_IONISATION,
    VS_DETECTOR_BEAM,
    VS_DETECTOR_ASPIRATING
} vs_detector_kind;
#define VS_DETECTOR_KIND_COUNT (VS_DETECTOR_ASPIRATING + 1)
/** Their words in files, in the order of the enum. */
extern const char *const vs_detector_kind_words[VS_DETECTOR_KIND_COUNT];

typedef enum {
    VS_OBSCURATION_DB_PER_M,
    VS_OBSCURATION_PERCENT_PER_M,
    VS_OBSCURATION_PERCENT_PER_FT,
    VS_OBSCURATION_PERCENT_OF_PATH
} vs_obscuration_unit;
#define VS_OBSCURATION_UNIT_COUNT (VS_OBSCURATION_PERCENT_OF_PATH + 1)
/** Their keys in files, in the order of the enum. */
extern const char *const vs_obscuration_keys[VS_OBSCURATION_UNIT_COUNT];

/** The range of thresholds, low to high, at which detectors of one make or standard alarm. Borrowed
 *  texts. */
typedef struct {
    const char *name;
    vs_obscuration_unit unit;
    double low, high; /* [unit] */
    vs_source_status status;
    const char *source;
} vs_detector_threshold;

/** One kind of detector. Borrowed. */
typedef struct {
    const char *title;   /* "optical point head"; NULL: not in the data */
    double wavelength_m; /* at which it senses the haze */
    vs_source_status status;
    const char *source; /* for the wavelength */
    const vs_detector_threshold *threshold;
    size_t threshold_count;
} vs_detector_type;

/** Attenuation [dB/m] of an extinction [1/m]: 10 log10(e) k.  Checked: tests/unit/test_detectors.c
 */
double vs_obscuration_db_per_m(double extinction_per_m);

/** Share of light lost over a path [%]: 100 (1 - exp(-k d)).
 *  path_m  0 or over; 1 for %/m, VS_M_PER_FT for %/ft */
double vs_obscuration_percent(double extinction_per_m, double path_m);

/** The extinction [1/m] at which that share is lost over a path.
 *  percent  0 to under 100;  path_m  over 0 */
double vs_obscuration_extinction_per_m(double percent, double path_m);

/** The extinction [1/m] of a threshold, `value` in its unit; path_m is used by
 *  VS_OBSCURATION_PERCENT_OF_PATH alone.  Checked: tests/unit/test_detectors.c */
double vs_detector_alarm_per_m(vs_obscuration_unit unit, double value, double path_m);

/** The lowest alarm threshold of a kind [1/m]; NaN if it has none. */
double vs_detector_lowest_alarm_per_m(const vs_detector_type *type, double path_m);

#ifdef __cplusplus
}
#endif
#endif
