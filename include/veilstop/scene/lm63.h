/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measured lamps from LM-63 files: candela tables of type C, as laboratories publish them.
 * Source: ANSI/IES LM-63-19 and its earlier editions of 1986, 1991, 1995 and 2002. */
#ifndef VEILSTOP_SCENE_LM63_H
#define VEILSTOP_SCENE_LM63_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"
#include "veilstop/light/photometry.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_LM63_BYTES_MAX      (4u << 20) /* [bytes] of one file: our choice */
#define VS_LM63_VERTICAL_MAX   2000       /* vertical angles: finer than a tenth of a degree */
#define VS_LM63_HORIZONTAL_MAX 4000       /* horizontal angles: as fine, all round */
#define VS_LM63_CANDELA_MOST   1e10       /* [cd] and of a tilt factor; as in a scene */
#define VS_LM63_CANDELAS_MAX   500000     /* bounds the memory used */
#define VS_LM63_TILTS_MAX      1000       /* tilt angles: our choice */

typedef enum {
    VS_LM63_1986, /* no identifier: the file begins with text */
    VS_LM63_1991, /* IESNA91 */
    VS_LM63_1995, /* IESNA:LM-63-1995 */
    VS_LM63_2002, /* IESNA:LM-63-2002 */
    VS_LM63_2019  /* IES:LM-63-2019 */
} vs_lm63_edition;

/** The contents of a file. Owns its arrays. */
typedef struct {
    vs_lm63_edition edition;
    vs_photometric_table table; /* actual candelas, factors below included */
    bool absolute;              /* absolute photometry: not relative to rated lumens */
    double lamps, lamp_lumens;  /* number, and rated lumens of each [lm]; NaN if absolute */
    double candela_factor;      /* multiplier x ballast factors, included in the table [1] */
    double width_m, length_m, height_m; /* luminous opening; negative: round (see the standard) */
    double input_watts;
    int tilt_geometry; /* 1 to 3, position of the lamp in the luminaire; 0: no tilt table */
    size_t tilt_count;
    const double *tilt_rad, *tilt_factor; /* tilts ascending from 0, and the factor at each */
    double *memory[2];
} vs_lm63;

/** Reads a file from its bytes.
 *  bytes   ASCII or any extension of it, need not end in NUL, borrowed for the call
 *  faults  gets the first fault, with the place "line N"
 *  Candelas are multiplied by the file's multiplier and ballast factor, and in the editions of 1986
 *  and 1991 by the ballast-lamp photometric factor, in whose place later editions have a number
 *  without effect. Relative photometry needs nothing more: its candelas are for lamps with the
 *  rated lumens stated in the file. Lists may be broken over lines anywhere and separated by blanks
 *  or commas. A table from 90 to 270 degrees (symmetric about that plane) is mirrored to 0 to 360.
 *  Refused: types A and B, TILT=file, angles that do not cover the range the standard requires,
 *  missing or superfluous figures, the limits above.
 *  Errors: VS_ERR_INPUT with one fault, VS_ERR_MEMORY. The file is then empty.
 *  Checked: tests/unit/test_lm63.c, tests/property/test_lm63_bytes.c */
VS_WARN_UNUSED vs_status vs_lm63_init(vs_lm63 *file, const char *bytes, size_t length,
                                      vs_faults *faults);
void vs_lm63_free(vs_lm63 *file);

/** The factor on all candelas of a tilted luminaire, from the file's tilt table.
 *  tilt_rad  between straight down and the nadir of the table [rad], 0 to pi
 *  Returns 1 without a tilt table; NaN beyond its last angle.
 *  Method: linear between the file's angles. The file has one factor per angle; the side towards
 *  which the luminaire is tilted, given by its geometry number, is ignored. */
double vs_lm63_tilt_factor(const vs_lm63 *file, double tilt_rad);

#ifdef __cplusplus
}
#endif
#endif
