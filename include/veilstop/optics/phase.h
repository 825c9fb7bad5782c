/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The phase function: into which directions a droplet scatters. It integrates to 1 over 4 pi sr;
 * scattering angle 0 is forward.
 * Sources: Henyey & Greenstein 1941 for the measured kind; Mie theory fills the tables (haze.h). */
#ifndef VEILSTOP_OPTICS_PHASE_H
#define VEILSTOP_OPTICS_PHASE_H

#include <stdbool.h>
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef enum { VS_PHASE_HENYEY_GREENSTEIN, VS_PHASE_TABLE } vs_phase_kind;

/** A phase function of one band, borrowed from the vs_haze that owns its table.
 *  The table is uniform in w = t/(1 + t), t = tan(angle/2), from w = 0 (forward) to w = 1
 *  (backward), and read by linear interpolation in w. Near both ends w is proportional to the
 *  angle, so that a few hundred values resolve the forward peak and the glory. */
typedef struct {
    vs_phase_kind kind;
    double g;            /* asymmetry: mean cosine [1]; exact for HENYEY_GREENSTEIN */
    const double *value; /* [1/sr] TABLE: count values, else NULL */
    size_t count;        /* TABLE: at least 2 */
} vs_phase;

/** Phase function at a scattering angle [1/sr].
 *  phase      borrowed
 *  cos_angle  cosine of the angle between the light's directions before and after [1], -1 to 1;
 *             values outside (by rounding) are clamped; NaN gives NaN
 *  Method: HENYEY_GREENSTEIN: Henyey & Greenstein 1941, Astrophys. J. 93, 70:
 *  (1 - g^2)/(4 pi (1 + g^2 - 2 g cos)^1.5), written without cancellation at the forward peak;
 *  TABLE: linear in w. One square root and one division.
 *  Checked: tests/unit/test_phase.c. */
double vs_phase_per_sr(const vs_phase *phase, double cos_angle);

/** Whether two phase functions are one: of the same kind and g, with one table (not another of
 *  the same values).  Checked: tests/unit/test_phase.c. */
bool vs_phase_same(const vs_phase *a, const vs_phase *b);

/** The place of an angle in a table: w [1], 0 forward to 1 backward.
 *  cos_angle  -1 to 1.   With t = tan(angle/2) = sin/(1 + cos), w = sin/(1 + cos + sin). */
double vs_phase_table_place(double cos_angle);
/** The cosine of the angle at a place w of a table, 0 to 1: the inverse of the above. */
double vs_phase_table_cosine(double place);

/** A Henyey-Greenstein phase function.
 *  g  asymmetry [1], in (-1, 1): 0 isotropic, over 0 forward. Outside, the values are NaN.
 *  Checked: tests/unit/test_phase.c. */
vs_phase vs_phase_henyey_greenstein(double g);

#ifdef __cplusplus
}
#endif
#endif
