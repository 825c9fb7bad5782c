/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A linear grade as a Common LUT Format file: decode the camera's curve, slope and offset, encode.
 * Source: Academy S-2014-006 v3.0, "A Common File Format for Look-Up Tables". */
#ifndef VEILSTOP_REPORT_CLF_FILE_H
#define VEILSTOP_REPORT_CLF_FILE_H

#include <stdbool.h>

#include "veilstop/base/status.h"
#include "veilstop/camera/curve.h"
#include "veilstop/camera/grade.h"
#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The accuracy of the file. */
typedef struct {
    bool table;   /* the curve is in 1D tables, otherwise in Log or Exponent nodes */
    double error; /* [signal] worst over input signals 0 to 1, black included, results clamped to
                   * 0..1; for tables as read with 32-bit floats */
} vs_clf_promise;

/** Appends the file.
 *  curve        of the camera, one that vs_curve_check passes
 *  grade        out = in slope + offset in scene-linear light, slopes over 0
 *  id           of the process list
 *  description  one line for people; the accuracy is added to it
 *  promise      out
 *  Method: acescct and log curves as Log nodes (styles cameraLogToLin, cameraLinToLog), srgb as an
 *  Exponent node (monCurve), linear needs none. If the chain differs from the exact transform by
 *  more than 1e-5 it becomes two 1D tables; the Matrix and Exponent nodes between them spread the
 *  second table's entries evenly over the signal. Nodes pass results over 1 and under 0; tables
 *  clamp them.
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_grade_files.c, parsed by libxml2 and evaluated by the specification */
VS_WARN_UNUSED vs_status vs_clf_file(vs_text *out, const vs_curve *curve,
                                     const vs_linear_grade *grade, const char *id,
                                     const char *description, vs_clf_promise *promise);

/** Appends a file that applies a matrix to the code values: out = m (red, green, blue, 1).
 *  curve   the one they were encoded with; only named
 *  matrix  finite
 *  If memory runs out, `out` notes it.
 *  Checked: tests/outside/test_ocio.c */
void vs_clf_matrix_file(vs_text *out, const vs_curve *curve, const double matrix[3][4],
                        const char *id, const char *description);

#ifdef __cplusplus
}
#endif
#endif
