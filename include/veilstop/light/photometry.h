/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measured lamp: candelas on a grid of vertical and horizontal angles, type C, its orientation,
 * and its intensity in each direction. Sources: ANSI/IES LM-63-19 (type C, symmetries), IES
 * Lighting Handbook (zonal lumens, beam and field angle). */
#ifndef VEILSTOP_LIGHT_PHOTOMETRY_H
#define VEILSTOP_LIGHT_PHOTOMETRY_H

#include <stddef.h>

#include "veilstop/base/status.h"
#include "veilstop/base/vec3.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The table from a file, with multipliers applied. Borrowed arrays.
 *  Vertical 0 is the nadir. The horizontal angles cover 0, 0 to 90, 0 to 180 or 0 to 360 degrees:
 *  rotational, quadrant, bilateral and no symmetry. */
typedef struct {
    size_t vertical_count, horizontal_count;
    const double *vertical_rad;   /* ascending, within 0 to pi */
    const double *horizontal_rad; /* ascending, from 0 */
    const double *candela;        /* [horizontal][vertical] */
} vs_photometric_table;

/** Whether a table is valid: at least two vertical angles, ascending within 0 to pi; horizontal
 *  angles ascending from 0 to 0, pi/2, pi or 2 pi; candelas finite and not negative.
 *  table  borrowed.  Errors: VS_ERR_DOMAIN. */
VS_WARN_UNUSED vs_status vs_photometric_check(const vs_photometric_table *table);

/** The orientation of a measured lamp: three perpendicular unit vectors. Seen from behind the lamp
 *  the horizontal angle runs counter-clockwise: c0 x c90 points away from the nadir. */
typedef struct {
    vs_vec3 nadir; /* vertical angle 0 */
    vs_vec3 c0;    /* vertical 90, horizontal 0 */
    vs_vec3 c90;   /* vertical 90, horizontal 90 */
} vs_photometric_frame;

/** The frame of a lamp at at_m that faces aim_m; the two must differ, else all is NaN. Its nadir is
 *  along the aim. Unrolled, c0 is level and points right as seen from behind; an aim within 1
 *  degree of the vertical has c0 along x, as a panel has its width.
 *  roll_rad  about the aim, counter-clockwise as seen from behind [rad] */
vs_photometric_frame vs_photometric_frame_make(vs_vec3 at_m, vs_vec3 aim_m, double roll_rad);

/** Candelas into a direction.
 *  table      borrowed; one that vs_photometric_check accepts
 *  frame      borrowed
 *  direction  away from the lamp; of any length; NaN gives NaN
 *  Method: bilinear in the two angles, folded by the table's symmetry; 0 outside its vertical
 *  angles, which is a jump where the last candela is not 0.
 *  Checked: tests/unit/test_photometry.c */
double vs_photometric_candela(const vs_photometric_table *table, const vs_photometric_frame *frame,
                              vs_vec3 direction);

/** The same by the two angles [rad]: vertical 0 to pi, horizontal any. */
double vs_photometric_candela_at(const vs_photometric_table *table, double vertical_rad,
                                 double horizontal_rad);

/** The largest candelas of a table. */
double vs_photometric_peak_candela(const vs_photometric_table *table);

/** Lumens of a table.
 *  Method: zonal: the solid angle between neighbouring vertical angles, 2 pi (cos a - cos b), times
 *  the mean of the candelas at its ends, each the trapezoidal mean over the horizontal angles (IES
 *  Lighting Handbook; what laboratories state). The integral of the bilinear table itself differs
 *  by under 0.1 % for steps of 2.5 degrees.
 *  Checked: tests/unit/test_photometry.c against stated lumens of all four symmetries. */
double vs_photometric_lumens(const vs_photometric_table *table);

/** The full angle over which a lamp sends at least a share of its peak: beam angle at 0.5, field
 *  angle at 0.1.
 *  share           of vs_photometric_peak_candela, over 0 and under 1
 *  horizontal_rad  the plane: this half-plane and the one opposite, each from the nadir to the
 *                  outermost angle that reaches the share, by linear interpolation
 *  Returns up to 2 pi [rad]; 0 if neither half-plane reaches the share; NaN outside the range.
 *  Checked: tests/unit/test_photometry.c against the published table. */
double vs_photometric_spread_rad(const vs_photometric_table *table, double share,
                                 double horizontal_rad);

/** Where a ray crosses the lines of the table: the places at which the candelas along it have a
 *  kink, or jump at the edge of the vertical angles.
 *  from_lamp_m  the ray's start relative to the lamp's position [m]
 *  direction    of the ray, unit
 *  length_m     of the ray, over 0
 *  at_m         out, distances along the ray, within 0 and length_m, ascending [m]
 *  size         capacity of at_m; vs_photometric_breaks_most is enough
 *  Returns their number; if `size` is too small, the first found, not the nearest.
 *  Method: each vertical angle is a cone about the nadir, each horizontal one a half-plane; the
 *  planes that a symmetry mirrors are included. */
size_t vs_photometric_breaks(const vs_photometric_table *table, const vs_photometric_frame *frame,
                             vs_vec3 from_lamp_m, vs_vec3 direction, double length_m, double *at_m,
                             size_t size);

/** An upper bound on what vs_photometric_breaks returns for a table. */
size_t vs_photometric_breaks_most(const vs_photometric_table *table);

#ifdef __cplusplus
}
#endif
#endif
