/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Each figure three times: as predicted, by random walks with its standard error, and their
 * ratio. */
#include "veilstop/report/trust.h"

#include "veilstop/report/predict.h"
#include "veilstop/report/rooms.h"
#include "veilstop/report/words.h"

#define NAME_COLUMNS   22 /* [columns] of a point's or a beam's name */
#define FIGURE_COLUMNS 9  /* [columns] of a figure */
#define KIND_COLUMNS   10 /* [columns] of a figure's kind */

static double luminance_of(const vs_tally *tally) {
    return vs_bands_luminance(vs_tally_mean(tally));
}

/* ---- text ---- */

static void figure(vs_text *out, const vs_style *style, double nits) {
    vs_style_number_cell(out, FIGURE_COLUMNS, vs_style_luminance(style, nits));
}

static void line(vs_text *out, const vs_style *style, const char *name, const char *kind,
                 double predicted, const vs_tally *walks) {
    double nits = luminance_of(walks), error = vs_tally_error(walks);
    vs_text_addf(out, "  ");
    vs_style_cell(out, name, NAME_COLUMNS, false);
    vs_style_cell(out, kind, KIND_COLUMNS, false);
    figure(out, style, predicted);
    figure(out, style, nits);
    figure(out, style, error);
    if (nits > 0) {
        vs_style_figure(out, 7, "%.3f", predicted / nits);
        vs_style_figure(out, 7, "%.3f", error / nits);
    }
    vs_style_end_line(out);
}

static void head(vs_text *out, const vs_style *style) {
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "", NAME_COLUMNS, false);
    vs_style_cell(out, vs_style_luminance_unit(style), KIND_COLUMNS, false);
    vs_style_cell(out, "predicted", FIGURE_COLUMNS, true);
    vs_style_cell(out, "by walks", FIGURE_COLUMNS, true);
    vs_style_cell(out, "+-", FIGURE_COLUMNS, true);
    vs_style_cell(out, "ratio", 7, true);
    vs_style_cell(out, "+-", 7, true);
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
}

void vs_report_trust_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_trust *trust) {
    const vs_shot_prediction *p = &trust->prediction;
    vs_text words;
    vs_text_init(&words);
    vs_style_words(out, style, VS_INK_HEAD, p->shot->name);
    vs_report_density(&words, p->density.extinction_per_m);
    vs_text_addf(&words, "; %.0f random walks a point, with all room bounce", trust->walks);
    vs_text_addf(out, "   ");
    vs_style_wrap(out, vs_text_words(&words, out), 4);
    vs_text_free(&words);
    if (p->shot->point_count + p->beam_count == 0) {
        vs_text_addf(out, "  no points and no beams: nothing to hold against walks\n");
        return;
    }
    head(out, style);
    for (size_t i = 0; i < p->shot->point_count; i++) {
        const vs_point_prediction *point = &p->point[i];
        const vs_trust_point *walks = &trust->point[i];
        const char *name = p->shot->point[i].name;
        line(out, style, name, "clear", vs_bands_luminance(point->clear_nits), &walks->clear);
        line(out, style, "", "veil", vs_bands_luminance(point->veil_nits), &walks->veil);
        line(out, style, "", "in haze", vs_bands_luminance(point->hazed_nits), &walks->hazed);
    }
    for (size_t i = 0; i < p->beam_count; i++) {
        const char *name = scene->light[p->beam[i].light].name;
        line(out, style, name, "beam", p->beam[i].beam_nits, &trust->beam[i].beam);
        line(out, style, "", "behind it", p->beam[i].background_nits, &trust->beam[i].background);
    }
}

/* ---- JSON ---- */

static void pair(vs_json *json, const char *nits, const char *error, const vs_tally *tally) {
    vs_json_number(json, nits, luminance_of(tally));
    vs_json_number(json, error, vs_tally_error(tally));
}

static void point_json(vs_json *json, const vs_scene_point *at, const vs_point_prediction *point,
                       const vs_trust_point *walks) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "name", at->name);
    pair(json, "clear_nits", "clear_se", &walks->clear);
    pair(json, "veil_nits", "veil_se", &walks->veil);
    pair(json, "hazed_nits", "hazed_se", &walks->hazed);
    vs_json_bands(json, "bands_veil_nits", vs_tally_mean(&walks->veil));
    vs_json_number(json, "predicted_clear_nits", vs_bands_luminance(point->clear_nits));
    vs_json_number(json, "predicted_veil_nits", vs_bands_luminance(point->veil_nits));
    vs_json_number(json, "predicted_hazed_nits", vs_bands_luminance(point->hazed_nits));
    vs_json_bands(json, "predicted_bands_veil_nits", point->veil_nits);
    vs_json_close_object(json);
}

static void beam_json(vs_json *json, const vs_scene *scene, const vs_beam_prediction *beam,
                      const vs_trust_beam *walks) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "light", scene->light[beam->light].name);
    vs_json_vec3_or_null(json, "near", beam->near_m);
    pair(json, "beam_nits", "beam_se", &walks->beam);
    pair(json, "background_nits", "background_se", &walks->background);
    vs_json_number(json, "predicted_beam_nits", beam->beam_nits);
    vs_json_number(json, "predicted_background_nits", beam->background_nits);
    vs_json_close_object(json);
}

void vs_report_trust_json(vs_json *json, const vs_scene *scene, const vs_trust *trust) {
    const vs_shot_prediction *p = &trust->prediction;
    vs_json_string(json, "shot", p->shot->name);
    vs_json_number(json, "extinction_per_m", p->density.extinction_per_m);
    vs_report_rooms_json(json, scene, p->room_extinction_per_m);
    vs_json_number(json, "paths", trust->walks);
    vs_json_open_array(json, "points");
    for (size_t i = 0; i < p->shot->point_count; i++) {
        point_json(json, &p->shot->point[i], &p->point[i], &trust->point[i]);
    }
    vs_json_close_array(json);
    vs_json_open_array(json, "beams");
    for (size_t i = 0; i < p->beam_count; i++) {
        beam_json(json, scene, &p->beam[i], &trust->beam[i]);
    }
    vs_json_close_array(json);
}
