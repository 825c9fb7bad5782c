/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The options of `picture`, and its parts: files, a moving lamp. */
#ifndef VEILSTOP_CLI_PICTURE_PICTURE_H
#define VEILSTOP_CLI_PICTURE_PICTURE_H

#include "ask/densities.h"
#include "veilstop/picture/apng.h"
#include "veilstop/picture/contact.h"
#include "veilstop/picture/develop.h"
#include "veilstop/picture/frame.h"

#define VS_CLI_FRAMES_MAX   10000 /* of one moving lamp: our choice */
#define VS_CLI_FRAMES_PER_S 24    /* [1/s] of an animation: common practice, no source */

typedef struct {
    size_t width, height;
    vs_develop_as as;
    int bits;
    const char *out, *exr;
    size_t light; /* that moves; VS_NONE */
    vs_vec3 along_m;
    size_t frames; /* 1: nothing moves */
} vs_cli_picture_order;

/* Reads --size, --as, --bits, --out, --exr, --move and --frames. camera: that of the first shot,
 * whose sensor gives the shape. tiles: number of pictures. */
vs_exit vs_cli_picture_order_read(const vs_ask_args *args, const vs_ask_scene *scene,
                                  const vs_camera *camera, size_t tiles,
                                  vs_cli_picture_order *order);

/* "walk.png" and 3 of 24 give "walk-03.png"; free it with free(). NULL when memory runs out. */
char *vs_cli_picture_numbered(const char *path, size_t number, size_t count);

/* Writes a PNG that states the meaning of its code values. */
vs_exit vs_cli_picture_write_png(const char *path, const vs_picture *picture,
                                 const vs_camera *camera, vs_develop_as as);

/* Whether a file is to be an animation: its name ends in .apng. */
bool vs_cli_picture_is_animation(const char *path);

/* Writes an animation, all of whose pictures are in. */
vs_exit vs_cli_picture_write_apng(const char *path, vs_apng *apng);

/* Computes the frame without haze too, and writes the layers of both. */
vs_exit vs_cli_picture_write_exr(const char *path, vs_frame *frame, const vs_scene *scene,
                                 const vs_camera *camera, const double *room_extinction_per_m);

#endif
