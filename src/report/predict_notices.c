/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a user should know beyond the figures: what hides a point, what clips, what is dark, where
 * single scattering is no longer the whole story. */
#include <math.h>

#include "veilstop/report/predict.h"
#include "veilstop/report/rooms.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/held.h"

/* The range in which predictions were compared with random walks: docs/accuracy.md, random
 * locations. */
#define DEPTH_TRUSTED 0.5  /* [1] optical depth of the longest path: up to this, and up to */
#define ROOM_TRUSTED  0.15 /* [1] of a room's mean chord, 19 of 20 were within 5 % */
#define DEPTH_THICK   1.0  /* [1] up to this 19 of 20 were within OFF_PERCENT */
#define OFF_PERCENT   10   /* [%] */
#define WORST_PERCENT 16   /* [%] the worst of them, a dark object between dark walls */

/* Counts notices up to the one asked for, then writes it. */
typedef struct {
    vs_text *out;
    const vs_style *style;
    size_t wanted, seen;
    bool done;
} picker;

static bool is_next(picker *t) {
    bool now = !t->done && t->seen == t->wanted;
    t->seen++;
    t->done = t->done || now;
    return now;
}

static void point_notices(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    const char *camera = scene->camera[p->shot->camera].name;
    if (p->shot->point_count == 0 && is_next(t)) {
        vs_text_addf(t->out, "The shot has no points: nothing in the picture is predicted.");
    }
    for (size_t i = 0; i < p->shot->point_count; i++) {
        const vs_point_prediction *point = &p->point[i];
        const char *name = p->shot->point[i].name;
        if (point->hidden && is_next(t)) {
            vs_text_addf(t->out,
                         "%s is hidden from camera %s by %s%s at %.2f %s; its figures in haze are "
                         "of that.",
                         name, camera, point->hidden_by_wall ? "a wall of " : "", point->hidden_by,
                         vs_style_length(t->style, point->hidden_at_m),
                         vs_style_length_unit(t->style));
        }
        if (!point->hidden && !point->in_frame && is_next(t)) {
            vs_text_addf(t->out, "%s is outside the frame of camera %s.", name, camera);
        }
        if (point->clipped && is_next(t)) {
            vs_text_addf(t->out, "%s is at or over what camera %s holds: it burns out.", name,
                         camera);
        }
    }
}

static void light_notices(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    for (size_t i = 0; i < scene->light_count; i++) {
        const vs_light *light = &scene->light[i];
        if (light->strength == VS_STRENGTH_FED && vs_shot_uses_light(p->shot, i) &&
            !vs_shot_uses_light(p->shot, light->fed_by) && is_next(t)) {
            vs_text_addf(t->out, "%s is dark: the shot does not use %s, which feeds it.",
                         light->name, scene->light[light->fed_by].name);
        }
    }
    if (p->shot->light_count == 0 && is_next(t)) {
        vs_text_addf(t->out, "The shot uses no light: there is no veil to predict.");
    }
}

/* If no opening leads haze to the camera, dwell refuses; the figures here are given anyway. */
static void way_notice(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    bool reaches = true;
    bool asked = scene->hazer.room != VS_NONE && p->density.extinction_per_m > 0;
    vs_status status = asked ? vs_held_reaches(scene, p->shot, &reaches) : VS_OK;
    t->out->failed = t->out->failed || status == VS_ERR_MEMORY;
    if (status == VS_OK && !reaches && is_next(t)) {
        vs_text_addf(t->out, "In this shot ");
        vs_report_no_way(t->out, scene, p->shot);
        vs_text_addf(t->out, p->shot->density_by_room
                                 ? "."
                                 : ". These figures take the same haze in every room.");
    }
}

/* If the hazers cannot keep up, the day's plan holds less than these figures are of. */
static void weak_notice(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    double most_g = INFINITY, asked_g = p->density.mass_mg_per_m3 * 1e-3;
    vs_status status = vs_held_most_g_per_m3(scene, p->shot, &most_g);
    t->out->failed = t->out->failed || status == VS_ERR_MEMORY;
    if (asked_g > most_g && is_next(t)) {
        double asked_per_m = p->density.extinction_per_m;
        vs_text_addf(t->out, "Out of reach: ");
        vs_report_too_weak(t->out, scene, p->shot, asked_per_m, asked_per_m * most_g / asked_g);
        vs_text_addf(t->out, ".");
    }
}

/* Whether a light of the shot burns by itself. */
static bool burns(const vs_scene *scene, const vs_scene_shot *shot, size_t light) {
    double own = shot->dimmer ? shot->dimmer[light] : (double)NAN;
    double dimmer = isnan(own) ? scene->light[light].dimmer : own;
    return vs_shot_uses_light(shot, light) && dimmer > 0 &&
           scene->light[light].strength != VS_STRENGTH_FED;
}

/* What the haze in view gets of a light, straight or after bounces, before all points together. */
static double veil_nits(const vs_scene *scene, const vs_shot_prediction *p, size_t light) {
    double nits = 0;
    for (size_t i = 0; i < scene->light_count; i++) {
        for (size_t k = 0; vs_light_whole(scene, i) == light && k < p->shot->point_count; k++) {
            nits += vs_bands_luminance(p->point[k].veil_by_light[i]) +
                    vs_bands_luminance(p->point[k].indirect_by_light[i]);
        }
    }
    return nits;
}

/* A lamp whose light nowhere meets the haze in view: it may stand outside, or behind a wall. */
static void lost_light_notices(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    bool told = scene->indirect == VS_INDIRECT_COMPUTED && p->density.extinction_per_m > 0;
    for (size_t i = 0; i < scene->light_count && told && p->shot->point_count > 0; i++) {
        if (vs_light_whole(scene, i) == i && burns(scene, p->shot, i) &&
            veil_nits(scene, p, i) == 0 && is_next(t)) {
            vs_text_addf(t->out,
                         "No light of %s gets to where the camera looks: does it stand outside, or "
                         "behind a wall?",
                         scene->light[i].name);
        }
    }
}

/* Without haze no light's share is known; that nothing is lit shows all the same. */
static void dark_notice(picker *t, const vs_shot_prediction *p) {
    double nits = 0;
    for (size_t i = 0; i < p->shot->point_count; i++) {
        nits += vs_bands_luminance(p->point[i].clear_nits);
    }
    if (nits == 0 && p->shot->point_count > 0 && p->shot->light_count > 0 && is_next(t)) {
        vs_text_addf(t->out, "None of its points gets any light in this shot.");
    }
}

static void air_notices(picker *t, const vs_scene *scene, const vs_shot_prediction *p) {
    way_notice(t, scene, p);
    weak_notice(t, scene, p);
    if (vs_held_thicker(scene, p->shot, p->room_extinction_per_m) != VS_NONE && is_next(t)) {
        vs_report_thicker_room(t->out, scene, p->shot, p->room_extinction_per_m);
        vs_text_addf(t->out, ".");
    }
    bool thick = p->longest_way_depth > DEPTH_THICK;
    bool thicker = p->longest_way_depth > DEPTH_TRUSTED || p->room_depth > ROOM_TRUSTED;
    if ((thick || thicker) && is_next(t)) {
        vs_text_addf(t->out,
                     thick
                         ? "So thick (%.0f %% of the light is lost on its longest way) that these "
                           "figures are not promised; "
                         : "Thick for these figures (%.0f %% of the light is lost on its "
                           "longest way): ",
                     100 * -expm1(-p->longest_way_depth));
        if (!thick) {
            vs_text_addf(t->out,
                         "in trials 19 of 20 were right to %d %%, the worst was %d %% off; ",
                         OFF_PERCENT, WORST_PERCENT);
        }
        vs_text_addf(t->out, "`veilstop trust` measures this shot.");
    }
    vs_text colour;
    vs_text_init(&colour);
    vs_report_colour(&colour, p->veil_tint, scene->camera[p->shot->camera].white_kelvin);
    t->out->failed = t->out->failed || colour.failed;
    if (colour.length > 0 && is_next(t)) {
        vs_text_addf(t->out, "The veil is %s.", colour.bytes);
    }
    vs_text_free(&colour);
}

bool vs_report_predict_notice(vs_text *out, const vs_style *style, const vs_scene *scene,
                              const vs_shot_prediction *prediction, size_t i) {
    picker t = {out, style, i, 0, false};
    point_notices(&t, scene, prediction);
    light_notices(&t, scene, prediction);
    lost_light_notices(&t, scene, prediction);
    dark_notice(&t, prediction);
    air_notices(&t, scene, prediction);
    return t.done;
}
