/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Grading haze out: the linear grade that removes haze at one depth, the CDL nearest to it in a
 * working curve, and its cost in noise and latitude.
 * Sources: airlight, hazed = clear T + V (Koschmieder 1924); ASC CDL 1.2; noise by the linear
 * sensor model of EMVA Standard 1288 with the floor of ISO 15739 (signal to noise 1). */
#ifndef VEILSTOP_CAMERA_GRADE_H
#define VEILSTOP_CAMERA_GRADE_H

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/camera/camera.h"
#include "veilstop/camera/cdl.h"

/* [1] a hundred stops: neither a camera nor a grade file can use the slope that undoes less; our
 * choice */
#define VS_GRADE_TRANSMISSION_LEAST 1e-30

#ifdef __cplusplus
extern "C" {
#endif

/** Haze at one depth, by band: hazed x = clear x times transmission plus veil. */
typedef struct {
    vs_bands transmission; /* [1] over 0 to 1 */
    vs_bands veil;         /* [scene-linear] >= 0 */
} vs_depth;

/** out = in slope + offset, by band, in scene-linear light. */
typedef struct {
    vs_bands slope, offset;
} vs_linear_grade;

/** The grade that leaves only the share 1 - recover of the haze, as if it had been that much
 *  thinner: slope = T^-F, offset = V (1 - T^(1-F))/(1 - T) - V T^-F.
 *  recover  F [1] 0 (as shot) to 1 (all of it): slope 1/T, offset -V/T
 *  Errors: VS_ERR_DOMAIN (a transmission under VS_GRADE_TRANSMISSION_LEAST or over 1, a veil under
 *  0, F outside 0..1).
 *  Method: thinner haze keeps its source term V/(1 - T) and has transmission T^(1-F).
 *  Left out: light that haze scatters onto the object itself.
 *  Checked: tests/unit/test_grade.c, closed forms. */
VS_WARN_UNUSED vs_status vs_grade_undo(const vs_depth *depth, double recover,
                                       vs_linear_grade *grade);

vs_bands vs_grade_apply(const vs_linear_grade *grade, vs_bands x);
/** What the camera sees of a clear x at a depth. */
vs_bands vs_depth_haze(const vs_depth *depth, vs_bands x);
/** What a clear x at a depth would become in haze thinner by the share `recover`: the target of a
 *  grade. recover 1: x itself. */
vs_bands vs_depth_thinned(const vs_depth *depth, double recover, vs_bands x);

/** Standard deviation [scene-linear] of the sensor's noise at x >= 0, in one band.
 *  Method: EMVA 1288 linear model, variance = dark + photons. The dark part gives a signal-to-noise
 *  ratio of 1 at `stops_below_grey` (ISO 15739); photons follow from a full well of 40,000
 *  electrons at `stops_above_grey` (common practice, no source), or more where that would leave no
 *  dark part.
 *  Left out: fixed-pattern noise, quantisation, noise reduction. */
double vs_grade_noise(const vs_camera *camera, double x);

/** What a grade and the haze do to the luminance noise of a black object there.
 *  added_stops       by the grade: graded over ungraded hazed frame
 *  over_clear_stops  graded hazed frame over the same black without haze: the veil's own photons
 *                    are noise too */
typedef struct {
    double added_stops, over_clear_stops;
} vs_grade_noise_cost;
vs_grade_noise_cost vs_grade_noise_stops(const vs_camera *camera, const vs_depth *depth,
                                         const vs_linear_grade *grade);

/** Stops that the camera holds without haze, from its floor to the first clip, curve or sensor:
 *  log2((clip + e)/e). */
double vs_grade_range_stops(const vs_camera *camera);

/** Stops between the veil and clipping: log2((clip + e)/(V + e)), luminance, e the camera's floor.
 *  Without haze equal to vs_grade_range_stops. */
double vs_grade_latitude_stops(const vs_camera *camera, const vs_depth *depth);

/** How far the grade moves black, as signal [percent of full scale, by band] through the curve: the
 *  offset a colourist would dial in first. Negative: down. */
vs_bands vs_grade_offset_percent(const vs_camera *camera, const vs_depth *depth,
                                 const vs_linear_grade *grade);

/** Error in stops that a grade leaves at another depth, where `clear` is in different haze:
 *  log2((graded + e)/(wanted + e)), luminances, graded not under 0. Negative: over-corrected, too
 *  dark; positive: under-corrected, haze remains. */
double vs_grade_error_stops(const vs_camera *camera, const vs_linear_grade *grade, double recover,
                            const vs_depth *there, vs_bands clear);

typedef struct {
    vs_cdl cdl;
    double low, high; /* [scene-linear] range of clear light of the fit */
    double worst_stops, mean_stops;
} vs_grade_cdl;

/** The CDL nearest to a linear grade in the camera's curve.
 *  low, high  [scene-linear] clear light that the shot uses, 0 < low < high; high is lowered to
 *             what the hazed frame does not clip
 *  out        worst and mean absolute error in stops (floor e added) over greys and half-saturated
 *             primaries and secondaries in that range, all bands; signals are clamped to 0..1 as
 *             ASC CDL 1.2 requires
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_grade.c by a second implementation of the arithmetic. */
VS_WARN_UNUSED vs_status vs_grade_fit_cdl(const vs_camera *camera, const vs_depth *depth,
                                          double recover, double low, double high,
                                          vs_grade_cdl *out);

#ifdef __cplusplus
}
#endif
#endif
