/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The visible bodies of lamps and of a shot's points: bulbs, lenses, tubes, panels, small cards.
 * They block no light, as in the scene; they only end the rays of the picture. */
#ifndef VEILSTOP_PICTURE_INTERPOLATION_BODIES_H
#define VEILSTOP_PICTURE_INTERPOLATION_BODIES_H

#include "veilstop/camera/view.h"
#include "veilstop/light/emitter.h"
#include "veilstop/shot/scene_geometry.h"

typedef enum {
    VS_BODY_BALL,
    VS_BODY_TUBE,
    VS_BODY_PANEL,
    VS_BODY_CARD,
    VS_BODY_SUN /* its disc */
} vs_body_kind;

typedef struct {
    vs_body_kind kind;
    size_t index; /* light, or point of the shot for a card */
    vs_vec3 at_m; /* middle; a tube's start */
    vs_vec3 axis; /* a tube's run, to its end [m] */
    double radius_m;
    vs_rect rect;       /* panel, card */
    vs_vec3 normal;     /* of the plane used for its depth, towards the camera */
    double reflectance; /* of a card, if given; else 0 */
} vs_body;

typedef struct {
    vs_body *item;
    size_t count;
} vs_bodies;

/* The bodies of a shot's lights that shine towards the camera, and cards for its points.
 * pixel  [1] size of a pixel at distance 1.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bodies_init(vs_bodies *bodies, const vs_scene_geometry *geometry,
                                        const vs_scene_shot *shot, const vs_emitter *emitter,
                                        const vs_view *view, double pixel);
void vs_bodies_free(vs_bodies *bodies);

/* Where a ray first meets a body, in lengths of its direction; NaN if it does not. */
double vs_body_met_at(const vs_body *body, vs_vec3 from_m, vs_vec3 direction);

/* Its own luminance towards the camera [cd/m2]; cards: 0. */
vs_bands vs_body_nits(const vs_body *body, const vs_emitter *emitter, vs_vec3 camera_m);

#endif
