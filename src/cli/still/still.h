/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The data of `still`, and its parts. */
#ifndef VEILSTOP_CLI_STILL_STILL_H
#define VEILSTOP_CLI_STILL_STILL_H

#include "ask/densities.h"
#include "ask/match.h"
#include "cli/photo.h"
#include "veilstop/picture/contact.h"
#include "veilstop/picture/still.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/photo_reading.h"

/* [pixels] of a photo at most; larger ones are reduced when read. Our choice: a sheet of two is as
 * large as a picture may be */
#define VS_CLI_STILL_PIXELS (1u << 25)

/* A photo and what it means. */
typedef struct {
    const char *path;
    vs_picture picture;
    vs_png_size size; /* of the file */
    vs_png_colour colour;
    char note[VS_PNG_NOTE_SIZE];
    vs_still_photo photo; /* of the picture */
    const char *why;      /* that curve, as a clause */
} vs_cli_still_photo;

/* A point of the shot in it. */
typedef struct {
    double x_px, y_px; /* of the file; NaN behind the camera */
    const char *why;   /* it could not be read; NULL: it was */
    vs_still_patch patch;
    double nits, sd_nits; /* NaN where it was not read */
    bool read;            /* in haze as well */
    const char *why_not_read;
} vs_cli_still_point;

typedef struct {
    const vs_ask_args *args;
    vs_ask_scene scene;
    size_t shot;
    vs_cli_still_photo photo;
    bool grey_by_patch;     /* by a pixel; else by the shot's exposure */
    vs_report_match *match; /* NULL: the shot's own camera */
    vs_camera camera;       /* that took the photo */
    /* haze over it */
    vs_ask_densities densities;
    vs_density density[VS_ASK_DENSITIES_MAX]; /* one a picture, where the camera is */
    size_t count;                             /* of pictures */
    double *room_extinction_per_m;            /* one a room a picture */
    double *thickest_per_m;                   /* one a room */
    double clipped;                           /* [1] share of the photo */
    size_t out_width, out_height;             /* [pixels] of what was written */
    vs_cli_still_point *point;                /* one a point of the shot; NULL: not read */
    bool haze_read;
    vs_photo_reading reading;
    double planned_per_m; /* NaN: there is no plan */
} vs_cli_still;

/* Reads the photo, and by --curve, --grey and the file itself what it shows. */
vs_exit vs_cli_still_read_photo(vs_cli_still *s);
/* A coordinate in the file's pixels as one in the reduced ones. */
double vs_cli_still_kept_px(const vs_cli_still *s, double px);

/* Which densities are asked for, one a picture. */
vs_exit vs_cli_still_densities(vs_cli_still *s);
/* Writes --out, --exr and --overlay. */
vs_exit vs_cli_still_draw(vs_cli_still *s);

/* The answer. */
vs_exit vs_cli_still_print(const vs_cli_still *s);

#endif
