/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "cli/photo.h"

#include <stdlib.h>

#include "cli/cli.h"
#include "veilstop/scene/file.h"

#define PNG_BYTES_MAX (600u << 20) /* [bytes] the largest picture in 16 bits has less */

vs_exit vs_cli_photo_read(const char *path, size_t pixels_most, vs_picture *picture,
                          vs_png_size *size, vs_png_colour *colour, char *note) {
    char *bytes;
    size_t length;
    vs_faults faults = {0};
    vs_status status = vs_file_read_whole(path, PNG_BYTES_MAX, &bytes, &length);
    if (status == VS_ERR_FILE) {
        return vs_ask_fail_file(path, "read");
    }
    if (status == VS_OK) {
        status = vs_png_read_reduced(bytes, length, pixels_most, picture, size, &faults);
        if (colour) {
            vs_png_read_colour(bytes, length, colour, note);
        }
        free(bytes);
    }
    if (vs_faults_any(&faults)) {
        return vs_ask_fail_faults(path, &faults);
    }
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, path);
}

vs_exit vs_cli_photo_write(const char *path, const vs_picture *picture,
                           const vs_png_colour *colour) {
    unsigned char *bytes;
    size_t length;
    vs_status status = vs_png_write_colour(picture, colour, &bytes, &length);
    return vs_cli_write_made(path, status, bytes, length);
}
