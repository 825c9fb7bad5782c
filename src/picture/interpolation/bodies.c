/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sizes are those of common fittings (common practice, no source): for the haze only the light
 * matters, not the body. */
#include "picture/interpolation/bodies.h"

#include <math.h>
#include <stdlib.h>

#include "veilstop/base/units.h"

#define BULB_RADIUS_M    0.03      /* [m] a household bulb */
#define LENS_RADIUS_M    0.05      /* [m] the lens of a small lamp */
#define TUBE_RADIUS_M    0.013     /* [m] a fluorescent tube of 26 mm */
#define SUN_RADIUS_RAD   4.6524e-3 /* [rad] 959.63 seconds of arc at 1 au: Auwers 1891 */
#define SUN_AT_M         1e5       /* [m] stands for its distance: farther than any location */
#define CARD_HALF_M      0.07      /* [m] a hand-sized card */
#define CARD_HALF_PIXELS 3.5       /* [pixels] but at least this */
/* [pixels] radius: smaller ones are drawn this large and correspondingly dimmer */
#define BALL_PIXELS 0.75

static double pixel_at(const vs_view *view, vs_vec3 at_m, double pixel) {
    return pixel * fabs(vs_vec3_dot(vs_vec3_sub(at_m, view->at_m), view->forward));
}

static bool make_light(vs_body *body, const vs_emitter *e, const vs_light *light, size_t i,
                       const vs_view *view, double pixel) {
    vs_vec3 towards = vs_vec3_sub(view->at_m, vs_emitter_middle(e));
    body->index = i;
    body->at_m = e->at_m;
    if (e->kind == VS_EMITTER_POINT) {
        double radius_m = e->profile == VS_PROFILE_EVEN ? BULB_RADIUS_M : LENS_RADIUS_M;
        body->kind = VS_BODY_BALL;
        body->radius_m = fmax(radius_m, BALL_PIXELS * pixel_at(view, e->at_m, pixel));
    } else if (e->kind == VS_EMITTER_LINE) {
        body->kind = VS_BODY_TUBE;
        body->axis = vs_vec3_scale(e->axis, e->length_m);
        body->radius_m =
            fmax(TUBE_RADIUS_M, BALL_PIXELS * pixel_at(view, vs_emitter_middle(e), pixel));
    } else if (e->kind == VS_EMITTER_PARALLEL) {
        if (light->is_part) {
            return false; /* the same sun, through another opening */
        }
        body->kind = VS_BODY_SUN;
        body->at_m = vs_vec3_along(view->at_m, e->axis, -SUN_AT_M);
        body->radius_m =
            fmax(SUN_AT_M * tan(SUN_RADIUS_RAD), BALL_PIXELS * pixel_at(view, body->at_m, pixel));
        towards = vs_vec3_sub(view->at_m, body->at_m);
    } else if (light->kind == VS_LIGHT_PANEL && light->strength != VS_STRENGTH_FED) {
        body->kind = VS_BODY_PANEL;
        body->rect = e->rect;
        body->normal = e->rect.normal;
        return vs_vec3_dot(towards, e->rect.normal) > 0;
    } else {
        return false; /* a window, or a fed panel, which is a blocker */
    }
    body->normal = vs_vec3_unit(towards);
    return vs_vec3_length(towards) > body->radius_m &&
           vs_bands_luminance(vs_body_nits(body, e, view->at_m)) > 0;
}

static void make_card(vs_body *body, const vs_scene_point *point, size_t i, const vs_view *view,
                      double pixel) {
    double half_m = fmax(CARD_HALF_M, CARD_HALF_PIXELS * pixel_at(view, point->at_m, pixel));
    vs_vec3 facing =
        point->kind == VS_POINT_REFLECTANCE ? point->facing : vs_vec3_scale(view->forward, -1);
    body->kind = VS_BODY_CARD;
    body->index = i;
    body->at_m = point->at_m;
    body->normal = facing;
    body->reflectance = point->kind == VS_POINT_REFLECTANCE ? point->value : 0;
    body->rect =
        vs_rect_facing(point->at_m, vs_vec3_add(point->at_m, facing), 2 * half_m, 2 * half_m);
}

vs_status vs_bodies_init(vs_bodies *bodies, const vs_scene_geometry *geometry,
                         const vs_scene_shot *shot, const vs_emitter *emitter, const vs_view *view,
                         double pixel) {
    const vs_scene *scene = geometry->scene;
    bodies->count = 0;
    bodies->item = calloc(scene->light_count + shot->point_count + 1, sizeof *bodies->item);
    if (!bodies->item) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        if (vs_bands_luminance(emitter[i].strength) > 0 &&
            make_light(&bodies->item[bodies->count], &emitter[i], &scene->light[i], i, view,
                       pixel)) {
            bodies->count++;
        }
    }
    for (size_t i = 0; i < shot->point_count; i++) {
        make_card(&bodies->item[bodies->count++], &shot->point[i], i, view, pixel);
    }
    return VS_OK;
}

void vs_bodies_free(vs_bodies *bodies) {
    free(bodies->item);
    bodies->item = NULL;
    bodies->count = 0;
}

static double ball_met_at(const vs_body *body, vs_vec3 from_m, vs_vec3 direction) {
    vs_vec3 off_m = vs_vec3_sub(body->at_m, from_m);
    double square = vs_vec3_dot(direction, direction);
    double t = vs_vec3_dot(off_m, direction) / square;
    vs_vec3 apart_m = vs_vec3_along(off_m, direction, -t);
    return t > 0 && vs_vec3_dot(apart_m, apart_m) <= body->radius_m * body->radius_m ? t
                                                                                     : (double)NAN;
}

/* Where ray and tube are closest, if that is within the tube. */
static double tube_met_at(const vs_body *body, vs_vec3 from_m, vs_vec3 direction) {
    vs_vec3 off_m = vs_vec3_sub(from_m, body->at_m);
    double a = vs_vec3_dot(direction, direction), b = vs_vec3_dot(direction, body->axis);
    double c = vs_vec3_dot(body->axis, body->axis), d = vs_vec3_dot(direction, off_m);
    double e = vs_vec3_dot(body->axis, off_m), below = a * c - b * b;
    double share = below > 1e-12 * a * c ? (a * e - b * d) / below : 0;
    share = fmin(fmax(share, 0), 1);
    double t = (b * share - d) / a;
    vs_vec3 apart_m =
        vs_vec3_sub(vs_vec3_along(off_m, direction, t), vs_vec3_scale(body->axis, share));
    return t > 0 && vs_vec3_dot(apart_m, apart_m) <= body->radius_m * body->radius_m ? t
                                                                                     : (double)NAN;
}

double vs_body_met_at(const vs_body *body, vs_vec3 from_m, vs_vec3 direction) {
    if (body->kind == VS_BODY_BALL || body->kind == VS_BODY_SUN) {
        return ball_met_at(body, from_m, direction);
    }
    if (body->kind == VS_BODY_TUBE) {
        return tube_met_at(body, from_m, direction);
    }
    bool inside;
    double t = vs_rect_pierced_at(&body->rect, from_m, direction, &inside);
    bool front = body->kind == VS_BODY_CARD || vs_vec3_dot(direction, body->rect.normal) < 0;
    return inside && front && t > 0 ? t : (double)NAN;
}

vs_bands vs_body_nits(const vs_body *body, const vs_emitter *emitter, vs_vec3 camera_m) {
    if (body->kind == VS_BODY_PANEL) {
        return emitter->strength;
    }
    if (body->kind == VS_BODY_TUBE) { /* an element sends strength x sine from width x sine */
        return vs_bands_scale(emitter->strength, 1 / (2 * body->radius_m));
    }
    if (body->kind == VS_BODY_CARD) {
        return vs_bands_grey(0);
    }
    if (body->kind == VS_BODY_SUN) { /* an even disc gives luminance x solid angle */
        double share = body->radius_m / vs_vec3_length(vs_vec3_sub(camera_m, body->at_m));
        return vs_bands_scale(emitter->strength, 1 / (VS_PI * share * share));
    }
    vs_point_source source = {emitter->at_m, emitter->strength, emitter, emitter->profile,
                              emitter->axis};
    vs_vec3 towards = vs_vec3_unit(vs_vec3_sub(camera_m, emitter->at_m));
    double profile = vs_point_source_profile(&source, towards);
    return vs_bands_scale(emitter->strength, profile / (VS_PI * body->radius_m * body->radius_m));
}
