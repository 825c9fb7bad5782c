/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A reading of a card lit by a lamp of the scene: the prediction of that card, solved for the
 * extinction that leaves as much contrast as was read. */
#include <float.h>
#include <math.h>
#include <stdlib.h>

#include "shot/reading/reading_card.h"
#include "veilstop/base/root.h"

#define DEPTH_MOST 12.0 /* [1] optical depth to the card beyond which nothing can be read */
#define SOLVED     1e-7 /* [1] of the extinction */
#define SLOPE_STEP 1e-3 /* [1] of the extinction, for the slope of ln q */

/* The card as a scene of its own. Points into itself: must not be moved. */
typedef struct {
    vs_scene scene;
    vs_scene_shot shot;
    vs_scene_point card;
    vs_predictor predictor;
    double *room_extinction_per_m;
    size_t *light;
    double log_clear; /* ln of the card's light at the camera, cd/m2, without haze */
    double log_kept;
    vs_status status; /* the first failure */
} lit_card;

static vs_status predict(lit_card *c, double k, vs_shot_prediction *out) {
    vs_predict_part part = {.want = NULL, .points = true, .extras = false};
    for (size_t i = 0; i < c->scene.room_count; i++) {
        c->room_extinction_per_m[i] = k;
    }
    return vs_predict_part_of_shot(&c->predictor, 0, &part, c->room_extinction_per_m, out);
}

/* ln of the card's own light at the camera, cd/m2, in haze of extinction k. */
static double log_left_in(double k, lit_card *c) {
    vs_shot_prediction p;
    vs_status status = predict(c, k, &p);
    if (status == VS_OK && p.point[0].hidden) {
        vs_shot_prediction_free(&p);
        status = VS_ERR_INPUT;
    }
    if (status != VS_OK) {
        c->status = c->status == VS_OK ? status : c->status;
        return NAN;
    }
    double left =
        vs_bands_luminance(vs_bands_mul(p.point[0].surface_nits, p.point[0].transmission));
    vs_shot_prediction_free(&p);
    if (k == 0 && !(left > 0)) {
        c->status = VS_ERR_INPUT;
        return NAN;
    }
    return log(left == 0 ? DBL_MIN : left); /* nothing at all is left behind very much haze */
}

static double short_of(double k, void *context) {
    lit_card *c = context;
    return log_left_in(k, c) - c->log_clear - c->log_kept;
}

/* The lamp, and what feeds it. */
static vs_status take_lights(lit_card *c, const vs_scene *scene, size_t lamp) {
    c->light = malloc((scene->light_count + 1) * sizeof *c->light);
    if (!c->light) {
        return VS_ERR_MEMORY;
    }
    bool *taken = calloc(scene->light_count + 1, sizeof *taken);
    if (!taken) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = lamp; i < scene->light_count && !taken[i];
         i = scene->light[i].strength == VS_STRENGTH_FED ? scene->light[i].fed_by : VS_NONE) {
        taken[i] = true;
    }
    for (size_t i = 0; i < scene->light_count; i++) {
        if (taken[vs_light_whole(scene, i)]) {
            c->light[c->shot.light_count++] = i;
        }
    }
    free(taken);
    c->shot.light = c->light;
    return VS_OK;
}

static vs_status set_up(lit_card *c, const vs_scene *scene, const vs_scene_reading *given) {
    const vs_camera *camera = &scene->camera[given->camera];
    vs_vec3 axis = vs_vec3_unit(vs_vec3_sub(camera->aim_m, camera->at_m));
    c->scene = *scene;
    c->scene.shot = &c->shot;
    c->scene.shot_count = 1;
    c->shot.camera = given->camera;
    c->shot.density = VS_DENSITY_OPEN;
    c->shot.point = &c->card;
    c->shot.point_count = 1;
    c->card.name = "card";
    c->card.kind = VS_POINT_REFLECTANCE;
    c->card.value = 1;
    c->card.at_m = vs_vec3_along(camera->at_m, axis, given->distance_m);
    c->card.facing = vs_vec3_scale(axis, -1);
    c->room_extinction_per_m = calloc(scene->room_count + 1, sizeof(double));
    vs_status status =
        c->room_extinction_per_m ? take_lights(c, scene, given->lit_by) : VS_ERR_MEMORY;
    return status == VS_OK ? vs_predictor_init(&c->predictor, &c->scene) : status;
}

/* Extinction and slope; 0 for a card that kept all of its contrast. */
static vs_status solve(lit_card *c, double distance_m, vs_reading *out) {
    double most = DEPTH_MOST / distance_m, k = 0;
    c->log_clear = log_left_in(0, c); /* through what nets and panes there are, as it was read */
    if (c->status == VS_OK && c->log_kept < 0) {
        vs_status status = vs_root_brent(short_of, c, 0, most, SOLVED, SOLVED * most, &k);
        if (status != VS_OK) {
            return c->status != VS_OK ? c->status : status;
        }
    }
    double step = SLOPE_STEP * fmax(k, SLOPE_STEP * most);
    double low = fmax(0, k - step);
    double slope = (log_left_in(k + step, c) - log_left_in(low, c)) / (k + step - low);
    out->extinction_per_m = k;
    out->path_m = -slope;
    return c->status != VS_OK ? c->status : slope < 0 ? VS_OK : VS_ERR_DOMAIN;
}

vs_status vs_reading_by_lamp(const vs_scene *scene, const vs_scene_reading *given,
                             vs_reading *out) {
    vs_reading_card_light card;
    lit_card c = {.status = VS_OK};
    vs_reading_blank(out);
    if (given->camera == VS_NONE || given->lit_by == VS_NONE) {
        return VS_ERR_DOMAIN;
    }
    vs_status status = vs_reading_card(given, &scene->camera[given->camera], &card);
    if (status != VS_OK) {
        return status;
    }
    status = set_up(&c, scene, given);
    if (status == VS_OK) {
        c.log_kept = fmin(0, log(card.kept));
        status = solve(&c, given->distance_m, out);
    }
    if (status == VS_OK) {
        /* as read, even if noise raised the contrast; the slope at no haze replaces the path */
        double read = log(card.kept);
        out->log_kept = read > 0 ? read : -out->extinction_per_m * out->path_m;
        vs_reading_judge(given, &card, vs_reading_longest_m(&scene->room[given->room]), out);
    } else {
        vs_reading_blank(out);
    }
    vs_predictor_free(&c.predictor);
    free(c.room_extinction_per_m);
    free(c.light);
    return status;
}
