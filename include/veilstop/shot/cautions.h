/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the day's haze means for people, alarms and exits, as figures beside limits and thresholds.
 * Sources: for the figures the tables (data files), for the methods safety/.
 * Nothing here is a verdict that a density may be breathed or will not trip an alarm. */
#ifndef VEILSTOP_SHOT_CAUTIONS_H
#define VEILSTOP_SHOT_CAUTIONS_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/safety/tables.h"
#include "veilstop/shot/day.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_CAUTION_CREW_S 36000.0 /* [s] 10 h: a crew's day if no people are given */

/** The time [s] to which an alarm is told: rounded down to five minutes, or to one in the first ten,
 *  in which a small room may fill while the hazer has hardly begun. NaN for NaN. */
double vs_caution_about_s(double at_s);

/** The extinction of a gram of the fluid's droplets, and its range. */
typedef struct {
    double extinction_m2_per_g;                 /* at 549 nm */
    double low_m2_per_g, high_m2_per_g;         /* the range */
    bool size_known;                            /* false: measured, with the range of its class */
    double at_detector[VS_DETECTOR_KIND_COUNT]; /* extinction at that kind's wavelength over that at
                                                 * 549 nm [1]; 1 if the size is unknown */
} vs_caution_optics;

/** Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE from the fluid's optics, at some or all
 *  wavelengths: figures that could not be calculated are then NaN, the others are valid.
 *  Method: Mie theory for nine sizes from a half to one and a half times the fluid's (within the
 *  limits of optics/haze.h), of which the smallest and the largest extinction are taken. A measured
 *  fluid has no size: the range is that of its class in the tables, widened to include the figure
 *  given.
 *  Checked: tests/unit/test_cautions.c */
VS_WARN_UNUSED vs_status vs_caution_optics_init(vs_caution_optics *optics, const vs_fluid *fluid,
                                                const vs_safety_tables *tables);

/** Mass of droplets [g/m3] at an extinction [1/m at 549 nm]. */
typedef struct {
    double low, likely, high;
} vs_caution_mass;
vs_caution_mass vs_caution_mass_of(const vs_caution_optics *optics, double extinction_per_m);

/** A detector of the venue against a density. Extinctions [1/m] at the detector's wavelength. */
typedef struct {
    double peak_per_m;
    double alarm_per_m; /* as given, or the lowest of its kind's thresholds */
    bool own;           /* as given */
    bool reached;
    double reached_s; /* of the day; NaN: never, or no day is given */
} vs_detector_caution;
vs_detector_caution vs_caution_detector(const vs_scene_detector *detector,
                                        const vs_safety_tables *tables,
                                        const vs_caution_optics *optics, double extinction_per_m);

/** A threshold of a kind, as if such a detector were mounted in a room. */
typedef struct {
    size_t room;
    vs_detector_kind kind;
    const vs_detector_threshold *threshold;
    double path_m; /* a beam: the room's longer side */
    double peak_per_m, low_per_m, high_per_m;
    double reached_low_s, reached_high_s; /* NaN: never */
} vs_threshold_caution;

/** Exits seen through haze of one extinction. */
typedef struct {
    double extinction_per_m;
    double lit_m, reflecting_m; /* INFINITY in clear air */
    double sign_m;              /* whichever of the two the venue has */
    bool exit_seen;             /* from the venue's exit_m; true if none is given */
    bool criterion_met;         /* the venue's sign, by the first criterion of the tables */
    double light_share;         /* of light from the ceiling that arrives at the floor [1], in the
                                 * room where it is least */
} vs_exit_caution;
/** room_extinction_per_m  one per room */
vs_exit_caution vs_caution_exit(const vs_scene *scene, const vs_safety_tables *tables,
                                const double *room_extinction_per_m);

/** One person against one limit; g/m3. */
typedef struct {
    size_t person; /* index in vs_cautions.person */
    const vs_exposure_limit *limit;
    double limit_g_per_m3;          /* for that person's day */
    double low, high;               /* breathed, averaged as the limit requires */
    double spread_low, spread_high; /* the same dose over the limit's length; NaN if no different */
} vs_exposure_caution;

/** Owns its arrays; borrows the scene and the tables. */
typedef struct {
    const vs_scene_person *person; /* the venue's, or a crew of 10 h */
    size_t person_count;
    vs_exposure_caution *exposure; /* person by person, the limits of the fluid's class in order */
    size_t exposure_count;
    double *peak_per_m;            /* one per room, at 549 nm */
    double *peak_at_s;             /* one per room */
    size_t thickest;               /* the room with the highest peak */
    vs_caution_mass peak_mass;     /* in it */
    vs_detector_caution *detector; /* as the venue's */
    size_t detector_count;
    size_t first_detector;           /* the first of the venue's to be reached; VS_NONE: none is */
    vs_threshold_caution *threshold; /* room by room, kind by kind */
    size_t threshold_count;
    vs_exit_caution exit;
} vs_cautions;

/** Errors: VS_ERR_MEMORY.
 *  Method: everyone is assumed to breathe, at each moment, the air of the thickest room, and to
 *  work when it is thickest; hours beyond the day's haze are in clear air. Rooms are well mixed:
 *  near the hazer it is thicker and alarms come sooner. Left out: vapour, other dusts, droplets
 *  that people carry out, and the effect of detector housings.
 *  Checked: tests/unit/test_cautions.c */
VS_WARN_UNUSED vs_status vs_cautions_init(vs_cautions *cautions, const vs_scene *scene,
                                          const vs_safety_tables *tables,
                                          const vs_caution_optics *optics, const vs_day *day);
void vs_cautions_free(vs_cautions *cautions);

/** Whether a figure reaches a limit (by its high end), a detector of the venue is reached, or exits
 *  cannot be seen. If none, that is still not a permission. */
bool vs_cautions_any_reached(const vs_cautions *cautions);

/** The lowest limit of a kind of average for a class of fluid; NULL if there is none. */
const vs_exposure_limit *vs_caution_lowest_limit(const vs_safety_tables *tables,
                                                 vs_fluid_class fluid, vs_average average);

#ifdef __cplusplus
}
#endif
#endif
