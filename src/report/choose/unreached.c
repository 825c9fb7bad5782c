/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why no density meets a want, in words. */
#include "report/choose/unreached.h"
#include "veilstop/report/predict.h"

void vs_report_unreached(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_choice *choice, size_t want) {
    const vs_scene_shot *shot = &scene->shot[choice->shot];
    const vs_choice_want *w = &choice->want[want];
    const vs_scene_want *given = &shot->want[want];
    const char *camera = scene->camera[shot->camera].name;
    char k[16];
    switch (w->why) {
    case VS_UNREACHED_HIDDEN:
        if (w->hidden_point == VS_NONE) {
            vs_text_addf(out, "the place is hidden from camera %s", camera);
        } else {
            vs_text_addf(out, "%s is hidden from camera %s", shot->point[w->hidden_point].name,
                         camera);
        }
        return;
    case VS_UNREACHED_DARK:
        vs_text_addf(out, "%s gives no light in this shot", scene->light[given->light].name);
        return;
    case VS_UNREACHED_BESIDE:
        vs_text_addf(out,
                     "the beam of %s ends before the camera looks through it, or passes beside",
                     scene->light[given->light].name);
        return;
    case VS_UNREACHED_WEAK:
        vs_text_addf(out, "no haze brings it nearer than ");
        vs_report_want_value(out, style, given, w->best.value);
        vs_text_addf(out, ", at %s /m", vs_style_number(w->best_per_m, k));
        return;
    case VS_REACHED:
        return;
    }
}
