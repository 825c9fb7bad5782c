/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a colourist needs to know of a shot's haze, on one screen. */
#include "veilstop/report/grade.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/report/rooms.h"

#define NAME_COLUMNS 29 /* [columns] of a point's name in a table of grades */
#define HARM_COLUMNS 25 /* [columns] of the second name in it */
#define FACT_COLUMNS 34 /* [columns] of a point's name before a verdict */

void vs_report_cdl_json(vs_json *json, const vs_cdl *cdl) {
    vs_json_bands(json, "slope", cdl->slope);
    vs_json_bands(json, "offset", cdl->offset);
    vs_json_bands(json, "power", cdl->power);
    vs_json_number(json, "saturation", cdl->saturation);
}

static void bands_line(vs_text *out, const char *name, vs_bands value, int decimals,
                       const char *unit) {
    vs_text_addf(out, "  %-14s %11.*f %11.*f %11.*f%s%s\n", name, decimals, value.v[0], decimals,
                 value.v[1], decimals, value.v[2], unit[0] ? "  " : "", unit);
}

void vs_report_cdl_text(vs_text *out, const vs_cdl *cdl) {
    bands_line(out, "slope", cdl->slope, 5, "");
    bands_line(out, "offset", cdl->offset, 5, "");
    bands_line(out, "power", cdl->power, 5, "");
    vs_text_addf(out, "  %-14s %11.5f\n", "saturation", cdl->saturation);
}

#define RIGHT_STOPS    0.05 /* [stops] less is invisible; common practice, no source */
#define RIGHT_CONTRAST 0.02 /* [1] the same in contrast */

/* Contrast there after the grade, over that without haze: under 1, haze is left. */
static double contrast_at(const vs_shot_prediction *prediction, const vs_shot_grade *grade,
                          size_t point) {
    vs_bands t = prediction->point[point].transmission;
    double whole = pow(vs_bands_luminance(t), 1 - grade->recover);
    return vs_bands_luminance(vs_bands_mul(t, grade->linear.slope)) / whole;
}

static void verdict(vs_text *out, double stops, double contrast) {
    const char *light = fabs(stops) < RIGHT_STOPS ? "light right"
                        : stops < 0               ? "too dark"
                                                  : "too bright";
    const char *haze = fabs(contrast - 1) < RIGHT_CONTRAST ? "contrast right"
                       : contrast < 1                      ? "haze left"
                                                           : "too much taken out";
    vs_text_addf(out, "%+6.2f stops, %s; %s (contrast x %.2f)\n", stops, light, haze, contrast);
}

static void other_points(vs_text *out, const vs_shot_prediction *prediction,
                         const vs_shot_grade *grade) {
    const vs_scene_shot *shot = prediction->shot;
    for (size_t i = 0; i < shot->point_count; i++) {
        if (i == grade->point) {
            continue;
        }
        vs_text_addf(out, "  ");
        vs_style_cell(out, shot->point[i].name, FACT_COLUMNS, false);
        if (isnan(grade->error_stops[i])) {
            vs_text_addf(out, "hidden from the camera\n");
        } else {
            verdict(out, grade->error_stops[i], contrast_at(prediction, grade, i));
        }
    }
}

static void costs(vs_text *out, const vs_camera *camera, const vs_shot_grade *grade) {
    vs_text_addf(out, "  noise in the blacks there: %+.2f stops by the grade, %+.2f over no haze\n",
                 grade->noise.added_stops, grade->noise.over_clear_stops);
    vs_text_addf(out, "  latitude over the veil: %.1f stops of %.1f without haze\n",
                 grade->latitude_stops, vs_grade_range_stops(camera));
}

/* Writes the words, wrapped and indented by two blanks; frees them. */
static void sentence(vs_text *out, vs_text *words) {
    vs_text_addf(out, "  ");
    vs_style_wrap(out, vs_text_words(words, out), 4);
    vs_text_free(words);
}

/* The point that one grade for the whole frame gets most wrong, and by how much. */
static void largest_harm(vs_text *out, const vs_style *style, const vs_shot_prediction *prediction,
                         const vs_shot_grade *grade) {
    const vs_scene_shot *shot = prediction->shot;
    size_t worst = vs_shot_grade_harm(grade, shot->point_count);
    if (worst == VS_NONE) {
        return;
    }
    double off = grade->error_stops[worst];
    if (fabs(off) < RIGHT_STOPS) {
        vs_text_addf(out, "  It suits every point to %.2f stop.\n", RIGHT_STOPS);
    } else {
        vs_text words;
        vs_text_init(&words);
        vs_text_addf(&words, "Largest harm: %s, %.1f %s away, comes out %.2f stops too %s.",
                     shot->point[worst].name,
                     vs_style_length(style, prediction->point[worst].distance_m),
                     vs_style_length_unit(style), fabs(off), off < 0 ? "dark" : "bright");
        sentence(out, &words);
    }
}

void vs_report_grade_best_text(vs_text *out, const vs_scene_shot *shot,
                               const vs_shot_grade_share *best) {
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words,
                 "Best share: %.0f %% of the haze out; the worst is then %+.2f stops, at %s.",
                 100 * best->recover, fabs(best->worst_stops) < 0.005 ? 0 : best->worst_stops,
                 shot->point[best->worst_point].name);
    sentence(out, &words);
}

void vs_report_grade_best_json(vs_json *json, const vs_scene_shot *shot,
                               const vs_shot_grade_share *best) {
    vs_json_open_object(json, "best");
    vs_json_number(json, "recover", best->recover);
    vs_json_number(json, "worst_stops", best->worst_stops);
    vs_json_string(json, "worst_at", shot->point[best->worst_point].name);
    vs_json_close_object(json);
}

void vs_report_grade_head(vs_text *out, const vs_style *style, const vs_camera *camera) {
    static const char *const words[] = {"kept", "black", "noise", "CDL off"};
    char curve[16];
    snprintf(curve, sizeof curve, "%% %.12s", vs_curve_name(&camera->curve));
    const char *units[] = {"%", curve, "stops", "stops"};
    static const size_t columns[] = {5, 9, 6, 8};
    vs_style_ink(out, style, VS_INK_FAINT);
    for (int row = 0; row < 2; row++) {
        vs_text_addf(out, "  ");
        vs_style_cell(out, row == 0 ? "" : "graded for", NAME_COLUMNS, false);
        for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
            vs_style_cell(out, row == 0 ? words[i] : units[i], columns[i], true);
        }
        vs_text_addf(out, row == 0 ? "" : " largest harm, stops");
        vs_style_end_line(out);
    }
    vs_style_ink(out, style, VS_INK_PLAIN);
}

void vs_report_grade_row(vs_text *out, const vs_shot_prediction *prediction,
                         const vs_shot_grade *grade) {
    const vs_scene_shot *shot = prediction->shot;
    vs_text_addf(out, "  ");
    vs_style_cell(out, shot->point[grade->point].name, NAME_COLUMNS, false);
    vs_style_figure(out, 5, "%.0f", 100 * vs_bands_luminance(grade->depth.transmission));
    vs_style_figure(out, 9, "%+.1f", vs_bands_luminance(grade->offset_percent));
    vs_style_figure(out, 6, "%+.1f", grade->noise.over_clear_stops);
    vs_style_figure(out, 8, "%.2f", grade->cdl.worst_stops);
    vs_text_addf(out, " ");
    size_t worst = vs_shot_grade_harm(grade, shot->point_count);
    if (worst == VS_NONE) {
        vs_text_addf(out, "no other point\n");
    } else {
        vs_style_cell(out, shot->point[worst].name, HARM_COLUMNS, false);
        vs_style_stops(out, 6, grade->error_stops[worst]);
        vs_style_end_line(out);
    }
}

void vs_report_grade_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                          const vs_shot_prediction *prediction, const vs_shot_grade *grade) {
    const vs_scene_shot *shot = prediction->shot;
    const vs_camera *camera = &scene->camera[shot->camera];
    vs_style_words(out, style, VS_INK_HEAD, shot->name);
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words, "camera %s, curve %s; %.0f %% of the haze at %s taken out", camera->name,
                 vs_curve_name(&camera->curve), 100 * grade->recover,
                 shot->point[grade->point].name);
    vs_text_addf(out, " ");
    sentence(out, &words);
    largest_harm(out, style, prediction, grade);
    vs_text_addf(&words, "%% %s", vs_curve_name(&camera->curve));
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  %-14s %11s %11s %11s", "", "R", "G", "B");
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    bands_line(out, "kept", grade->depth.transmission, 4, "");
    bands_line(out, "veil", grade->depth.veil, 5, "scene-linear");
    bands_line(out, "black moves", grade->offset_percent, 1, vs_text_words(&words, out));
    vs_text_free(&words);
    vs_text_addf(out, "\nExact, in scene-linear light:\n");
    bands_line(out, "slope", grade->linear.slope, 5, "");
    bands_line(out, "offset", grade->linear.offset, 5, "");
    vs_text_addf(out,
                 "\nNearest CDL in %s: worst %.2f, mean %.2f stops off, from %.1f to %+.1f "
                 "stops to grey\n",
                 vs_curve_name(&camera->curve), grade->cdl.worst_stops, grade->cdl.mean_stops,
                 log2(grade->cdl.low / VS_CAMERA_GREY_LINEAR),
                 log2(grade->cdl.high / VS_CAMERA_GREY_LINEAR));
    vs_report_cdl_text(out, &grade->cdl.cdl);
    vs_text_addf(out, "\nWhat it costs:\n");
    costs(out, camera, grade);
    if (shot->point_count > 1) {
        vs_text_addf(out, "\nAt other depths:\n");
        other_points(out, prediction, grade);
    }
}

static void others_json(vs_json *json, const vs_shot_prediction *prediction,
                        const vs_shot_grade *grade) {
    vs_json_open_array(json, "others");
    for (size_t i = 0; i < prediction->shot->point_count; i++) {
        if (i != grade->point) {
            vs_json_open_object(json, NULL);
            vs_json_string(json, "point", prediction->shot->point[i].name);
            bool hidden = isnan(grade->error_stops[i]);
            vs_json_number_or_null(json, "error_stops", grade->error_stops[i]);
            vs_json_number_or_null(json, "contrast",
                                   hidden ? (double)NAN : contrast_at(prediction, grade, i));
            vs_json_close_object(json);
        }
    }
    vs_json_close_array(json);
}

void vs_report_grade_json(vs_json *json, const vs_scene *scene,
                          const vs_shot_prediction *prediction, const vs_shot_grade *grade) {
    const vs_scene_shot *shot = prediction->shot;
    const vs_camera *camera = &scene->camera[shot->camera];
    vs_json_string(json, "shot", shot->name);
    vs_json_string(json, "camera", camera->name);
    vs_json_string(json, "point", shot->point[grade->point].name);
    vs_report_rooms_json(json, scene, prediction->room_extinction_per_m);
    vs_json_number(json, "recover", grade->recover);
    vs_json_bands(json, "transmission", grade->depth.transmission);
    vs_json_bands(json, "veil_linear", grade->depth.veil);
    vs_json_open_object(json, "linear");
    vs_json_bands(json, "slope", grade->linear.slope);
    vs_json_bands(json, "offset", grade->linear.offset);
    vs_json_close_object(json);
    vs_json_open_object(json, "cdl");
    vs_json_string(json, "curve", vs_curve_name(&camera->curve));
    vs_report_cdl_json(json, &grade->cdl.cdl);
    vs_json_number(json, "worst_stops", grade->cdl.worst_stops);
    vs_json_number(json, "mean_stops", grade->cdl.mean_stops);
    vs_json_number(json, "from_linear", grade->cdl.low);
    vs_json_number(json, "to_linear", grade->cdl.high);
    vs_json_close_object(json);
    vs_json_bands(json, "offset_percent", grade->offset_percent);
    vs_json_number(json, "noise_stops", grade->noise.added_stops);
    vs_json_number(json, "noise_over_clear_stops", grade->noise.over_clear_stops);
    vs_json_number(json, "latitude_left_stops", grade->latitude_stops);
    others_json(json, prediction, grade);
}
