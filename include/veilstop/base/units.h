/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Conversions at the edge of the program: inside, everything is in SI units.
 * Sources: NIST SP 811 appendix B for lengths and photometric units; PI to double precision. */
#ifndef VEILSTOP_BASE_UNITS_H
#define VEILSTOP_BASE_UNITS_H

#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_PI                 3.14159265358979323846              /* [1] */
#define VS_RAD_PER_DEG        (VS_PI / 180.0)                     /* [rad/deg] */
#define VS_M_PER_FT           0.3048                              /* [m/ft] NIST SP 811, exact */
#define VS_M_PER_IN           0.0254                              /* [m/in] NIST SP 811, exact */
#define VS_LUX_PER_FC         (1.0 / (VS_M_PER_FT * VS_M_PER_FT)) /* [lx/fc] 1 lm per sq ft */
#define VS_NITS_PER_FL        (VS_LUX_PER_FC / VS_PI) /* [cd/m2 per fL] 1/pi cd per sq ft */
#define VS_S_PER_MIN          60.0                    /* [s/min] */
#define VS_S_PER_H            3600.0                  /* [s/h] */
#define VS_S_PER_DAY          86400                   /* [s/day] */
#define VS_M_PER_MM           1e-3                    /* [m/mm] */
#define VS_M_PER_UM           1e-6                    /* [m/um] */
#define VS_M_PER_NM           1e-9                    /* [m/nm] */
#define VS_UM_PER_M           1e6                     /* [um/m] */
#define VS_NM_PER_M           1e9                     /* [nm/m] */
#define VS_MG_PER_G           1e3                     /* [mg/g] */
#define VS_G_PER_MG           1e-3                    /* [g/mg] */
#define VS_DB_PER_M_PER_PER_M 4.34294481903251828 /* [dB] per unit of optical depth: 10 / ln 10 */
#define VS_STOPS_PER_NEPER    1.44269504088896341 /* [stops] per unit of optical depth: 1 / ln 2 */

typedef enum { VS_LENGTH_M, VS_LENGTH_FT } vs_length_unit;

/** Metres per unit. */
double vs_length_unit_m(vs_length_unit unit);

/** Reads a length with its own unit: "12 ft", "3.5 m", "350 cm", "6 in", "12'6\"", "12'", "6\"".
 *  text      borrowed, NUL-terminated; decimal point, optional sign, exponent allowed
 *  length_m  out, [m]; NaN on error
 *  Errors: VS_ERR_INPUT where the text is not such a length or not finite. Independent of the
 *  locale.
 *  Checked: tests/unit/test_base.c against NIST SP 811 factors. */
VS_WARN_UNUSED vs_status vs_length_parse(const char *text, double *length_m);

/** Reads a plain decimal number as JSON writes it (no locale, no hex, no inf or nan).
 *  Returns the characters used; 0, with *value NaN, where there is no number. */
size_t vs_number_parse(const char *text, double *value);

#ifdef __cplusplus
}
#endif
#endif
