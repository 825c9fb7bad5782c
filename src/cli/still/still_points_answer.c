/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What points in photos said, in words. */
#include <math.h>

#include "cli/still/still_points.h"
#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"

#define NAME_COLUMNS 16

static void add_points(vs_text *out, const vs_cli_still *s) {
    const vs_scene_shot *shot = &s->scene.scene->shot[s->shot];
    const vs_style *style = &s->scene.style;
    double grey = vs_camera_grey_nits(&s->photo.photo.camera);
    vs_text_addf(out, "  %-*s %9s %9s %9s  %8s %8s\n", NAME_COLUMNS, "point",
                 vs_style_luminance_unit(style), "+-", "to grey", "pixel x", "y");
    for (size_t i = 0; i < shot->point_count; i++) {
        const vs_cli_still_point *p = &s->point[i];
        vs_text_addf(out, "  ");
        vs_style_cell(out, shot->point[i].name, NAME_COLUMNS, false);
        if (p->why) {
            vs_text_addf(out, "not read: %s\n", p->why);
            continue;
        }
        vs_style_number_cell(out, 9, vs_style_luminance(style, p->nits));
        vs_style_number_cell(out, 9, vs_style_luminance(style, p->sd_nits));
        vs_style_stops(out, 9, log2(p->nits / grey));
        vs_text_addf(out, " %8.0f %8.0f\n", p->x_px, p->y_px);
    }
}

static void add_haze(vs_text *out, const vs_cli_still *s) {
    const vs_scene_shot *shot = &s->scene.scene->shot[s->shot];
    const vs_photo_reading *r = &s->reading;
    char k[16], low[16], high[16], planned[16];
    vs_text line;
    vs_text_addf(out, "haze by %zu points: %s /m, ", r->used_count,
                 vs_style_number(r->extinction_per_m, k));
    if (isfinite(r->high_per_m)) {
        vs_text_addf(out, "nine times in ten from %s to %s", vs_style_number(r->low_per_m, low),
                     vs_style_number(r->high_per_m, high));
    } else {
        vs_text_addf(out, "nine times in ten over %s", vs_style_number(r->low_per_m, low));
    }
    vs_text_addf(out, ": %s, visibility ", vs_report_haze_word(r->extinction_per_m));
    vs_report_visibility(out, &s->scene.style, vs_visible_range_m(r->extinction_per_m));
    vs_text_addf(out, "\n");
    vs_text_init(&line);
    if (s->planned_per_m > 0) {
        bool inside = r->low_per_m <= s->planned_per_m && s->planned_per_m <= r->high_per_m;
        double more = 100 * (r->extinction_per_m / s->planned_per_m - 1);
        vs_text_addf(&line, "the plan has %s /m: ", vs_style_number(s->planned_per_m, planned));
        if (inside) {
            vs_text_addf(&line, "these photos go with it; ");
        } else {
            vs_text_addf(&line, "there is %.0f %% %s; ", fabs(more), more > 0 ? "more" : "less");
        }
    }
    vs_text_addf(&line, "the veil is %.2f times what the scene's lamps make", r->veil_ratio);
    vs_text_addf(out, "  ");
    vs_style_wrap(out, vs_text_words(&line, out), 2);
    vs_text_free(&line);
    for (size_t i = 0; i < shot->point_count && s->point; i++) {
        if (!s->point[i].why && s->point[i].why_not_read) {
            vs_text_addf(out, "  %s: not read in haze: %s\n", shot->point[i].name,
                         s->point[i].why_not_read);
        }
    }
}

void vs_cli_still_points_text(vs_text *out, const vs_cli_still *s) {
    if (s->point) {
        add_points(out, s);
    }
    if (s->haze_read) {
        add_haze(out, s);
    }
}

void vs_cli_still_points_json(vs_json *json, const vs_cli_still *s) {
    const vs_scene_shot *shot = &s->scene.scene->shot[s->shot];
    const vs_photo_reading *r = &s->reading;
    if (!s->point) {
        return;
    }
    vs_json_open_array(json, "points");
    for (size_t i = 0; i < shot->point_count; i++) {
        const vs_cli_still_point *p = &s->point[i];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "name", shot->point[i].name);
        vs_json_number_or_null(json, "nits", p->nits);
        vs_json_number_or_null(json, "uncertainty_nits", p->sd_nits);
        vs_json_number_or_null(json, "x_px", p->x_px);
        vs_json_number_or_null(json, "y_px", p->y_px);
        vs_json_string(json, "not_read", p->why ? p->why : p->why_not_read);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
    if (s->haze_read) {
        vs_json_number(json, "extinction_per_m", r->extinction_per_m);
        vs_json_open_array(json, "extinction_90");
        vs_json_number(json, NULL, r->low_per_m);
        vs_json_finite_or_null(json, NULL, r->high_per_m);
        vs_json_close_array(json);
        vs_json_number_or_null(json, "planned_per_m", s->planned_per_m);
        vs_json_number(json, "veil_ratio", r->veil_ratio);
        vs_json_number(json, "off_share", r->off_share);
        vs_json_integer(json, "points_used", (long)r->used_count);
    }
}
