/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The uncertainty of the answers, as a table and as JSON. */
#include <math.h>
#include <stdio.h>

#include "report/choose/spread.h"
#include "veilstop/report/predict.h"

#define FIGURE_COLUMNS 28 /* [columns] of a figure's name */
#define VALUE_COLUMNS  7  /* [columns] of its value */
#define REASON_COLUMNS (VS_REPORT_COLUMNS - FIGURE_COLUMNS - 4 * (VALUE_COLUMNS + 1) - 5)

/* The name of a figure. */
static void figure_name(vs_text *out, const vs_style *style, const vs_scene *scene,
                        const vs_spread_figure *f) {
    static const char *const words[] = {
        "thinnest, /m", "thickest, /m",       "best, /m",         "",         "run, min",
        "wait, min",    "day's waiting, min", "until clear, min", "fluid, ml"};
    if (f->kind == VS_SPREAD_WANT) {
        const vs_scene_shot *shot = &scene->shot[f->shot];
        const vs_scene_want *want = &shot->want[f->want];
        vs_report_want_subject(out, scene, shot, want);
        vs_text_addf(out, ", %s", vs_report_want_unit(style, want->kind));
        return;
    }
    vs_text_addf(out, "%s", words[f->kind]);
}

/* In the unit given in the name. */
static double shown(const vs_style *style, const vs_scene *scene, const vs_spread_figure *f,
                    double value) {
    if (f->kind != VS_SPREAD_WANT) {
        return value;
    }
    return vs_report_want_figure(style, scene->shot[f->shot].want[f->want].kind, value);
}

static void value_cell(vs_text *out, double value) {
    char text[16];
    vs_style_figure(out, VALUE_COLUMNS, "%s", vs_style_number_within(value, VALUE_COLUMNS, text));
}

/* Whether a figure is the same in every sample, and so of no interest. */
static bool stands_still(const vs_spread_figure *f) {
    bool same = f->p10 == f->p90 && f->p10 == f->now;
    return f->main_input == VS_NONE && (same || f->known == 0);
}

static void figure_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                        const vs_spread_figure *f, size_t samples) {
    vs_text name, reason;
    vs_text_init(&name);
    vs_text_init(&reason);
    vs_text_addf(&name, "%s", f->shot == VS_NONE ? "" : "  ");
    figure_name(&name, style, scene, f);
    vs_text_addf(out, "  ");
    vs_style_cell(out, vs_text_words(&name, out), FIGURE_COLUMNS, false);
    value_cell(out, shown(style, scene, f, f->now));
    value_cell(out, shown(style, scene, f, f->p10));
    value_cell(out, shown(style, scene, f, f->p50));
    value_cell(out, shown(style, scene, f, f->p90));
    if (f->main_input != VS_NONE) {
        vs_text_addf(&reason, "%s (%+.2f)", scene->uncertain[f->main_input].pointer,
                     f->rank_correlation);
    }
    if (f->known < samples) {
        vs_text_addf(&reason, "%sin %.0f %%", reason.length ? ", " : "",
                     100.0 * (double)f->known / (double)samples);
    }
    vs_text_addf(out, " ");
    vs_style_cell(out, vs_text_words(&reason, out), REASON_COLUMNS, false);
    vs_style_end_line(out);
    vs_text_free(&name);
    vs_text_free(&reason);
}

void vs_report_spread_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                           const vs_choose_answer *answer) {
    char head[64];
    snprintf(head, sizeof head, "of %zu trials", answer->samples - answer->left_out);
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, head, FIGURE_COLUMNS, false);
    vs_style_cell(out, "now", VALUE_COLUMNS, true);
    vs_style_cell(out, "10 %", VALUE_COLUMNS, true);
    vs_style_cell(out, "half", VALUE_COLUMNS, true);
    vs_style_cell(out, "90 %", VALUE_COLUMNS, true);
    vs_text_addf(out, " hangs most on");
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    size_t shot = VS_NONE;
    for (size_t i = 0; i < answer->spread_count; i++) {
        const vs_spread_figure *f = &answer->spread[i];
        if ((answer->only != VS_NONE && f->shot != answer->only) || stands_still(f)) {
            continue;
        }
        if (f->shot != shot && f->shot != VS_NONE) {
            vs_text_addf(out, "  %s\n", scene->shot[f->shot].name);
        }
        shot = f->shot;
        figure_line(out, style, scene, f, answer->samples - answer->left_out);
    }
    if (answer->left_out > 0) {
        vs_text_addf(out, "  note: %zu of %zu trials were no valid scene and are left out.\n",
                     answer->left_out, answer->samples);
    }
}

static void inputs(vs_json *json, const vs_scene *scene) {
    vs_json_open_array(json, "inputs");
    for (size_t i = 0; i < scene->uncertain_count; i++) {
        vs_json_open_object(json, NULL);
        vs_json_string(json, "pointer", scene->uncertain[i].pointer);
        vs_json_number(json, "half_width", scene->uncertain[i].half_width);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void figure(vs_json *json, const vs_scene *scene, const vs_spread_figure *f) {
    static const vs_style metres = {VS_LENGTH_M, false};
    vs_json_open_object(json, NULL);
    vs_json_string(json, "figure", vs_spread_word(f->kind));
    vs_json_string(json, "shot", f->shot == VS_NONE ? NULL : scene->shot[f->shot].name);
    if (f->kind == VS_SPREAD_WANT) {
        vs_text words;
        vs_text_init(&words);
        figure_name(&words, &metres, scene, f);
        vs_json_string(json, "of", vs_text_words(&words, json->out));
        vs_text_free(&words);
    }
    vs_json_number_or_null(json, "now", shown(&metres, scene, f, f->now));
    vs_json_number_or_null(json, "p10", shown(&metres, scene, f, f->p10));
    vs_json_number_or_null(json, "p50", shown(&metres, scene, f, f->p50));
    vs_json_number_or_null(json, "p90", shown(&metres, scene, f, f->p90));
    vs_json_integer(json, "known", (long)f->known);
    vs_json_string(json, "hangs_on",
                   f->main_input == VS_NONE ? NULL : scene->uncertain[f->main_input].pointer);
    vs_json_number_or_null(json, "rank_correlation", f->rank_correlation);
    vs_json_close_object(json);
}

void vs_report_spread_json(vs_json *json, const vs_scene *scene, const vs_choose_answer *answer) {
    vs_json_open_object(json, "spread");
    vs_json_integer(json, "samples", (long)(answer->samples - answer->left_out));
    vs_json_integer(json, "left_out", (long)answer->left_out);
    inputs(json, scene);
    vs_json_open_array(json, "figures");
    for (size_t i = 0; i < answer->spread_count; i++) {
        if (answer->only == VS_NONE || answer->spread[i].shot == answer->only) {
            figure(json, scene, &answer->spread[i]);
        }
    }
    vs_json_close_array(json);
    vs_json_close_object(json);
}
