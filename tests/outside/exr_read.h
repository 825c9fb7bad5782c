/* SPDX-License-Identifier: GPL-3.0-or-later */
/* OpenEXR's C++ library as the second party: what it finds in a file that the C core wrote. */
#ifndef VEILSTOP_TESTS_EXR_READ_H
#define VEILSTOP_TESTS_EXR_READ_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Size of the picture, and how many channels; 0, or 1 with the library's words in `fault`. */
int exr_read_size(const char *path, size_t *width, size_t *height, size_t *channels, char *fault,
                  size_t size);
/* One channel as floats, width x height; *half: whether the file has half floats of it. 0, or 1 with
 * words, also where there is no such channel. */
int exr_read_channel(const char *path, const char *name, float *plane, int *half, char *fault,
                     size_t size);

#ifdef __cplusplus
}
#endif
#endif
