/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A cache of the bounced light that camera rays and surfaces see, from one density to the next. */
#ifndef VEILSTOP_SHOT_SIGHT_KEPT_VIEWS_H
#define VEILSTOP_SHOT_SIGHT_KEPT_VIEWS_H

#include "veilstop/shot/predict.h"

/* The view along a ray, or from a surface, in the current place: cached, or computed and cached in
 * place of the least recently used one. Valid until the next call.
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_kept_view_ray(vs_predictor *predictor, const vs_camera_ray *ray,
                                          vs_bounce_view **view);
VS_WARN_UNUSED vs_status vs_kept_view_place(vs_predictor *predictor, vs_vec3 p_m, vs_vec3 normal,
                                            vs_bounce_view **view);

void vs_kept_views_free(vs_predictor *predictor);

#endif
