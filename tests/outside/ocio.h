/* SPDX-License-Identifier: GPL-3.0-or-later */
/* OpenColorIO as the second party: its reading of a file or of a standard's curve, on many colours.
 */
#ifndef VEILSTOP_TESTS_OCIO_H
#define VEILSTOP_TESTS_OCIO_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Each takes colours (3 x count, changed in place) through OpenColorIO's CPU, 32-bit floats, none
 * of its approximations; 0, or 1 with its own words in `fault`. */
int ocio_file(const char *path, float *rgb, size_t count, char *fault, size_t size);
/* A transform that it carries built in, by its style. */
int ocio_built_in(const char *style, float *rgb, size_t count, char *fault, size_t size);
/* Its linear-then-power curve, signal to light: sRGB has 2.4 and 0.055. */
int ocio_moncurve(double gamma, double offset, float *rgb, size_t count, char *fault, size_t size);

#ifdef __cplusplus
}
#endif
#endif
