/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze laid over a photo: each pixel's light through the haze before it, and the veil that the
 * scene's lamps make there. No files, no threads: the caller lends a runner. Method: docs/still.md
 */
#ifndef VEILSTOP_PICTURE_STILL_H
#define VEILSTOP_PICTURE_STILL_H

#include "veilstop/base/error.h"
#include "veilstop/picture/develop.h"
#include "veilstop/picture/frame.h"
#include "veilstop/picture/picture.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A photo and what its code values mean. */
typedef struct {
    const vs_picture *picture; /* borrowed */
    vs_camera camera;          /* its curve, and where that clips; see vs_develop_signal */
    vs_develop_as as;
    double nits_per_linear; /* [cd/m2] of a scene-linear x of 1: how it was exposed */
} vs_still_photo;

/** Distances square to the picture, as phones and renderers write them. */
typedef struct {
    const vs_picture
        *map;      /* of the photo's shape, any size, 16 bits or 8; borrowed; 0: not known */
    double metres; /* of one count of its own bits */
} vs_still_depth;

/** A camera in its rooms, made ready to lay any haze over its photo. */
typedef struct {
    void *kept; /* opaque */
} vs_still;

/** scene   borrowed, must outlive it
 *  shot    index into its shots: lamps, openings, the camera's exposure
 *  camera  that took the photo: at, aim, roll, focal length and sensor, of which the photo is the
 *          largest part about its middle with the photo's shape
 *  width, height  [pixels] of the photo, 16 to VS_PICTURE_SIDE_MAX
 *  depth   NULL: the scene's rooms, blockers and figures alone give it; else the nearer of these
 *          and the map. Borrowed, must outlive it.
 *  runner  borrowed, must outlive the still; NULL: one after another
 *  Errors: VS_ERR_DOMAIN (size; the camera is in no room), VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Nothing needs to be closed then. */
VS_WARN_UNUSED vs_status vs_still_open(vs_still *still, const vs_scene *scene, size_t shot,
                                       const vs_camera *camera, size_t width, size_t height,
                                       const vs_still_depth *depth, const vs_runner *runner);
void vs_still_close(vs_still *still);

/** Works the haze out.  room_extinction_per_m: at 549 nm, one a room.
 *  Errors: those of vs_frame_render. */
VS_WARN_UNUSED vs_status vs_still_haze(vs_still *still, const double *room_extinction_per_m);

/** What is laid over, pixel by pixel; planes of the photo's size, of the caller's. A NULL plane is
 *  not filled. */
typedef struct {
    float *hazed[VS_BAND_COUNT];        /* scene-linear, 0.18 = the shot's middle grey */
    float *veil[VS_BAND_COUNT];         /* the same */
    float *transmission[VS_BAND_COUNT]; /* [1] of haze alone */
    float *depth_m;                     /* square to the picture; INFINITY outside */
} vs_still_planes;

/** Lays the haze worked out last over the photo, into a place of a picture, in the photo's own code
 *  values; with 8 bits dithered by a fixed pattern, which leaves what does not change as it is.
 *  out     has room for the photo at x, y; may be the photo's own picture; NULL: none
 *  planes  NULL: none
 *  clipped out, share of pixels that the photo clips [1]: their light is not known, it is taken as
 *          just clipped
 *  Light that the photo shows stays lit as it was: haze dims its way to the camera, not that of the
 *  lamps to what they light.
 *  Errors: VS_ERR_DOMAIN (sizes, no haze yet), VS_ERR_MEMORY.
 *  Checked: tests/unit/test_still.c against pictures of the same haze. */
VS_WARN_UNUSED vs_status vs_still_composite(vs_still *still, const vs_still_photo *photo,
                                            vs_picture *out, size_t x, size_t y,
                                            const vs_still_planes *planes, double *clipped);

/** Draws the edges of rooms, openings, blockers over a photo: what the camera sees of them in full,
 *  what is hidden dotted, in other rooms than the camera's not at all.
 *  picture  of the photo's size; drawn on
 *  Errors: VS_ERR_DOMAIN (size). */
VS_WARN_UNUSED vs_status vs_still_draw_edges(vs_still *still, vs_picture *picture);

/** A cross where a place is drawn, and a ring about a pixel.  x, y, ring: as in camera/match.h */
void vs_still_draw_cross(vs_picture *picture, double x_px, double y_px);
void vs_still_draw_ring(vs_picture *picture, double x_px, double y_px);

/** A small square of a photo. */
typedef struct {
    size_t side_px;
    vs_bands linear;    /* scene-linear medians */
    vs_bands linear_sd; /* of the medians: by their pixels' spread, and by what code values round */
    double clipped;     /* [1] share of its pixels that the photo clips */
    double dark;        /* [1] share of its pixels that are at the two lowest of 255 codes */
} vs_still_patch;

/** The square about a pixel: a five-hundredth of the photo's longer side each way.
 *  Errors: VS_ERR_DOMAIN where it is not all in the photo, VS_ERR_MEMORY.
 *  Checked: tests/unit/test_still.c */
VS_WARN_UNUSED vs_status vs_still_patch_at(const vs_still_photo *photo, double x_px, double y_px,
                                           vs_still_patch *patch);

/** Sets how a photo was exposed by a patch whose light is known.
 *  nits   [cd/m2] over 0;  patch  out, what the photo has there
 *  Errors: those of vs_still_patch_at; VS_ERR_INPUT where over a tenth of its pixels are clipped or
 *  black. The photo is as it was then.
 *  Checked: tests/unit/test_still.c */
VS_WARN_UNUSED vs_status vs_still_expose(vs_still_photo *photo, double x_px, double y_px,
                                         double nits, vs_still_patch *patch);

/** Signals from here on are clipped [1]: the lower of full scale and what the camera holds. */
double vs_still_clip_signal(const vs_still_photo *photo);

#ifdef __cplusplus
}
#endif
#endif
