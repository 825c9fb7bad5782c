/* What a user should know beyond the figures: what hides a point, what clips, what is dark, where
 * one scattering is no longer the whole story. */
#include <math.h>

#include "veilstop/report/predict.h"

#define DEPTH_TRUSTED                                                                              \
    0.5                /* [1] optical depth of the longest sight line; docs/physics.md, "Trust" */
#define TINT_SEEN 0.02 /* [1] a band this far from grey is worth a word; common practice */

/* Counts notices until the one asked for comes round; then writes it. */
typedef struct {
    vs_text *out;
    size_t wanted, seen;
    bool done;
} turn;

static bool is_turn(turn *t) {
    bool now = !t->done && t->seen == t->wanted;
    t->seen++;
    t->done = t->done || now;
    return now;
}

static void point_notices(turn *t, const vs_scene *scene, const vs_shot_prediction *p) {
    const char *camera = scene->camera[p->shot->camera].name;
    for (size_t i = 0; i < p->shot->point_count; i++) {
        const vs_point_prediction *point = &p->point[i];
        const char *name = p->shot->point[i].name;
        if (point->hidden && is_turn(t)) {
            vs_text_addf(t->out,
                         "%s is hidden from camera %s: something opaque stands in the way at "
                         "%.2f m; its hazed figure is of that.",
                         name, camera, point->hidden_at_m);
        }
        if (!point->hidden && !point->in_frame && is_turn(t)) {
            vs_text_addf(t->out, "%s is outside the frame of camera %s.", name, camera);
        }
        if (point->clipped && is_turn(t)) {
            vs_text_addf(t->out, "%s is at or over what camera %s holds: it clips.", name, camera);
        }
    }
}

static void light_notices(turn *t, const vs_scene *scene, const vs_shot_prediction *p) {
    for (size_t i = 0; i < scene->light_count; i++) {
        const vs_light *light = &scene->light[i];
        if (light->strength == VS_STRENGTH_FED && vs_shot_uses_light(p->shot, i) &&
            !vs_shot_uses_light(p->shot, light->fed_by) && is_turn(t)) {
            vs_text_addf(t->out, "%s is dark: the shot does not use %s, which feeds it.",
                         light->name, scene->light[light->fed_by].name);
        }
    }
    if (p->shot->light_count == 0 && is_turn(t)) {
        vs_text_addf(t->out, "The shot uses no light: there is no veil to predict.");
    }
}

static void air_notices(turn *t, const vs_shot_prediction *p) {
    if (p->longest_depth > DEPTH_TRUSTED && is_turn(t)) {
        vs_text_addf(t->out,
                     "Thick: optical depth %.2f over the longest sight line. Light scattered more "
                     "than once counts there; the veil may be off by more than 10 %%.",
                     p->longest_depth);
    }
    double red = p->veil_tint.v[VS_BAND_RED], blue = p->veil_tint.v[VS_BAND_BLUE];
    if (fabs(red - blue) > TINT_SEEN && is_turn(t)) {
        vs_text_addf(t->out, "The veil is tinted: R %.2f G %.2f B %.2f, luminance 1.", red,
                     p->veil_tint.v[VS_BAND_GREEN], blue);
    }
}

bool vs_report_predict_notice(vs_text *out, const vs_scene *scene,
                              const vs_shot_prediction *prediction, size_t i) {
    turn t = {out, i, 0, false};
    point_notices(&t, scene, prediction);
    light_notices(&t, scene, prediction);
    air_notices(&t, prediction);
    return t.done;
}
