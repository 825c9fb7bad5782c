/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a shot's camera sees: the rooms, the lamps and the haze, pixel by pixel, in scene light.
 * No files, no threads: the caller lends a runner. Method: docs/picture.md. */
#ifndef VEILSTOP_PICTURE_FRAME_H
#define VEILSTOP_PICTURE_FRAME_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/runner.h"
#include "veilstop/base/status.h"
#include "veilstop/shot/predict.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_FRAME_SIDE_MIN   16u        /* [pixels] our choice */
#define VS_FRAME_SIDE_MAX   8192u      /* [pixels] our choice */
#define VS_FRAME_PIXELS_MAX (1u << 25) /* [pixels] 8K: 33 million; our choice */

/** The amount of detail. */
typedef enum {
    VS_FRAME_COARSE, /* exact edges, light sampled at every 40th of the width, bounced light as in a
                      * haze nearby */
    VS_FRAME_FINE,   /* all of it */
} vs_frame_detail;

/** A shot's camera in its rooms, prepared for pictures in any haze. */
typedef struct {
    void *kept; /* opaque */
} vs_frame;

/** predictor  of the scene; borrowed, must outlive the frame; must not be used otherwise meanwhile
 *  shot       index into its scene's shots
 *  width, height  [pixels] within the limits above. Pixels are square: the picture shows the
 *                 largest central part of the sensor that has its shape.
 *  runner     borrowed, must outlive the frame; NULL: one after another
 *  Errors: VS_ERR_DOMAIN (size), VS_ERR_MEMORY. Then there is nothing to close. */
VS_WARN_UNUSED vs_status vs_frame_open(vs_frame *frame, vs_predictor *predictor, size_t shot,
                                       size_t width, size_t height, const vs_runner *runner);
void vs_frame_close(vs_frame *frame);

/** A plane of numbers, one per pixel, left to right, top to bottom. */
typedef struct {
    float *band[VS_BAND_COUNT];
} vs_frame_plane;

/** The last result; borrowed from the frame, valid until the next. */
typedef struct {
    size_t width, height;
    vs_frame_plane hazed;          /* [cd/m2] as the camera sees it */
    vs_frame_plane transmission;   /* [1] of haze, nets and panes, up to what is seen */
    vs_frame_plane veil;           /* [cd/m2] all of it */
    vs_frame_plane *veil_by_light; /* [cd/m2] once scattered, one per light of the scene; NULL
                                    * unless requested; dark lights have no planes */
    vs_frame_plane indirect;       /* [cd/m2] veil of light that met a surface or a droplet first;
                                    * valid only if requested by light */
    float *depth_m; /* [m] along the camera's axis, to what is seen; INFINITY outside */
} vs_frame_layers;

/** Computes the picture in a haze.
 *  room_extinction_per_m  at 549 nm, one per room
 *  by_light               whether each light's veil is kept
 *  layers                 out, borrowed
 *  The result is reproducible to the last bit, whatever was computed before and however many
 *  workers there are.
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_frame_render(vs_frame *frame, const double *room_extinction_per_m,
                                         vs_frame_detail detail, bool by_light,
                                         vs_frame_layers *layers);

/** One ray by its full integrals, in the last haze: what the picture approximates.
 *  x, y  [pixels] from the top left; the middle of the first pixel is 0.5, 0.5 */
typedef struct {
    vs_bands hazed, transmission, veil, indirect;
    double depth_m;
} vs_frame_ray;
VS_WARN_UNUSED vs_status vs_frame_render_ray(vs_frame *frame, double x, double y,
                                             vs_frame_ray *ray);

/** Whether an edge crosses a pixel: it or a neighbour sees something else, or a hard shadow's edge
 *  may be there. */
bool vs_frame_on_edge(const vs_frame *frame, size_t x, size_t y);

/** The pixel that shows a place; false if that is out of frame. */
bool vs_frame_pixel_of(const vs_frame *frame, vs_vec3 place_m, double *x, double *y);

#ifdef __cplusplus
}
#endif
#endif
