/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shots in shooting order: when, how thick, what the camera sees of it, what the grade takes
 * back. */
#include "report/sheet/sheet.h"

#include <math.h>

#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"

static void when(vs_sheet *s, size_t place) {
    if (!s->dwell) {
        return;
    }
    const vs_dwell_shot *plan = &s->dwell->shot[place];
    vs_text_addf(s->out, "<div class=\"when\">");
    vs_sheet_moment(s, plan->start_s, "dwell/shots/%zu/start_min", place);
    vs_text_addf(s->out, " &ndash; ");
    vs_sheet_moment(s, plan->end_s, "dwell/shots/%zu/end_min", place);
    vs_text_addf(s->out, "</div>\n");
}

static void camera_words(vs_text *out, const vs_camera *camera) {
    vs_text_addf(out, "camera ");
    vs_sheet_text(out, camera->name);
    vs_text_addf(out, ", %.3g&nbsp;mm, T%.3g, ISO&nbsp;%.4g", camera->focal_m * 1e3, camera->t_stop,
                 camera->iso);
    if (camera->nd_stops > 0) {
        vs_text_addf(out, ", ND %.3g stops", camera->nd_stops);
    }
}

static void name_cell(vs_sheet *s, size_t place, size_t shot) {
    const vs_scene_shot *filed = &s->scene->shot[shot];
    vs_text_addf(s->out,
                 "<th scope=\"row\"><div class=\"name\"><span class=\"place-no\">%zu</span> ",
                 place + 1);
    vs_sheet_text(s->out, filed->name);
    vs_text_addf(s->out, "</div>\n");
    when(s, place);
    vs_text_addf(s->out, "<div class=\"small\">");
    camera_words(s->out, &s->scene->camera[filed->camera]);
    vs_text_addf(s->out, "</div></th>\n");
}

static void picture_cell(vs_sheet *s, size_t shot) {
    const vs_sheet_shot *row = &s->answer->shot[shot];
    vs_text_addf(s->out, "<td class=\"picture\">");
    if (row->png) {
        vs_text_addf(s->out, "<img width=\"%zu\" height=\"%zu\" alt=\"", row->png_width,
                     row->png_height);
        vs_sheet_text(s->out, row->prediction->shot->name);
        vs_text_addf(s->out, " as camera ");
        vs_sheet_text(s->out, s->scene->camera[row->prediction->shot->camera].name);
        vs_text_addf(
            s->out,
            " sees it in this haze: bare rooms, lamps and beams\" src=\"data:image/png;base64,");
        vs_sheet_base64(s->out, row->png, row->png_length);
        vs_text_addf(s->out, "\">");
    }
    vs_text_addf(s->out, "</td>\n");
}

/* "0.00427 to 0.0386 /m give all it wants". */
static void wanted(vs_sheet *s, size_t shot) {
    const vs_choice *c = &s->answer->choices->shot[shot];
    if (c->want_count == 0) {
        return;
    }
    vs_text_addf(s->out, "<div class=\"small\">");
    if (c->met && !isnan(c->lowest_per_m)) {
        vs_text_addf(s->out, "wants ");
        vs_sheet_number(s->out, c->lowest_per_m, "choose/shots/%zu/extinction_per_m/lowest", shot);
        vs_text_addf(s->out, " to ");
        vs_sheet_number(s->out, c->highest_per_m, "choose/shots/%zu/extinction_per_m/highest",
                        shot);
        vs_text_addf(s->out, "&nbsp;/m");
    } else {
        vs_text_addf(s->out, "NONE meets all wants; best ");
        vs_sheet_number(s->out, c->recommended_per_m,
                        "choose/shots/%zu/extinction_per_m/recommended", shot);
        vs_text_addf(s->out, "&nbsp;/m");
    }
    vs_text_addf(s->out, "</div>");
}

static void haze_cell(vs_sheet *s, size_t shot) {
    const vs_density *d = &s->answer->shot[shot].prediction->density;
    vs_text_addf(s->out, "<td class=\"haze\"><div class=\"big\">%s</div>\n",
                 vs_report_haze_word(d->extinction_per_m));
    if (d->extinction_per_m > 0) {
        vs_text_addf(s->out, "<div>visibility ");
        vs_sheet_length(s, -1, d->visible_range_m, "predict/shots/%zu/density/visible_range_m",
                        shot);
        vs_text_addf(s->out, "</div>\n<div>");
        vs_sheet_number(s->out, d->extinction_per_m, "predict/shots/%zu/density/extinction_per_m",
                        shot);
        vs_text_addf(s->out, "&nbsp;/m</div>\n");
    }
    wanted(s, shot);
    vs_text_addf(s->out, "</td>\n");
}

/* The point whose black is shown: that of the first want for one, else the most lifted that is
 * seen; VS_NONE: no point. */
static size_t black_point(const vs_shot_prediction *p) {
    size_t most = VS_NONE;
    for (size_t i = 0; i < p->shot->want_count; i++) {
        if (p->shot->want[i].kind == VS_WANT_BLACK) {
            return p->shot->want[i].a;
        }
    }
    for (size_t i = 0; i < p->shot->point_count; i++) {
        if (!p->point[i].hidden &&
            (most == VS_NONE || p->point[i].black_percent > p->point[most].black_percent)) {
            most = i;
        }
    }
    return most;
}

static void black_line(vs_sheet *s, size_t shot) {
    const vs_shot_prediction *p = s->answer->shot[shot].prediction;
    const vs_camera *camera = &s->scene->camera[p->shot->camera];
    size_t at = black_point(p);
    if (at == VS_NONE) {
        return;
    }
    double veil = vs_camera_linear(camera, vs_bands_luminance(p->point[at].veil_nits));
    vs_text_addf(s->out, "<div>black at ");
    vs_sheet_text(s->out, p->shot->point[at].name);
    vs_text_addf(s->out, ": <b>%s</b>, ", vs_report_black_word(veil));
    vs_sheet_decimals(s->out, 1, p->point[at].black_percent,
                      "predict/shots/%zu/points/%zu/black_percent", shot, at);
    vs_text_addf(s->out, "&nbsp;%% %s</div>\n", vs_curve_name(&camera->curve));
}

static void beam_lines(vs_sheet *s, size_t shot) {
    const vs_shot_prediction *p = s->answer->shot[shot].prediction;
    for (size_t i = 0; i < p->beam_count + p->extra_beam_count; i++) {
        const vs_beam_prediction *beam = &p->beam[i];
        if (i >= p->beam_count && beam->reads == VS_READS_NOT) {
            continue; /* nobody asked for it, and nobody sees it */
        }
        vs_text_addf(s->out, "<div>beam of ");
        vs_sheet_text(s->out, s->scene->light[beam->light].name);
        if (isnan(beam->near_m.x)) {
            vs_text_addf(s->out, ": not in frame</div>\n");
            continue;
        }
        vs_text_addf(s->out, ": <b>%s</b>, ", vs_report_beam_word(beam->reads));
        vs_sheet_decimals(s->out, 2, beam->over_stops,
                          "predict/shots/%zu/beams/%zu/over_background_stops", shot, i);
        vs_text_addf(s->out, " stops");
        if (!isnan(beam->reads_from_m)) {
            vs_text_addf(s->out, ", reads to ");
            vs_sheet_length(s, 1, beam->reads_to_m, "predict/shots/%zu/beams/%zu/reads_to_m", shot,
                            i);
        }
        vs_text_addf(s->out, "</div>\n");
    }
}

/* Wants that this haze does not give. */
static void missed_lines(vs_sheet *s, size_t shot) {
    const vs_sheet_shot *row = &s->answer->shot[shot];
    const vs_scene_shot *filed = row->prediction->shot;
    vs_text words;
    vs_text_init(&words);
    for (size_t i = 0; i < filed->want_count; i++) {
        const vs_want_result *r = &row->want[i];
        if (r->met) {
            continue;
        }
        char shown[16];
        vs_report_want(&words, s->style, s->scene, filed, &filed->want[i]);
        vs_text_addf(s->out, "<div><b>NOT met:</b> ");
        vs_sheet_text(s->out, vs_text_words(&words, s->out));
        if (isfinite(r->value)) {
            const vs_style metres = {VS_LENGTH_M, false};
            const char *unit = vs_report_want_unit(s->style, filed->want[i].kind);
            double value = vs_report_want_figure(s->style, filed->want[i].kind, r->value);
            double filed_value = vs_report_want_figure(&metres, filed->want[i].kind, r->value);
            vs_text_addf(s->out, "; it is ");
            vs_sheet_figure(s->out, filed_value, value != filed_value ? "ft" : "",
                            vs_style_number(value, shown), "predict/shots/%zu/wants/%zu/value",
                            shot, i);
            vs_text_addf(s->out, "&nbsp;%s", unit);
        }
        vs_text_addf(s->out, "</div>\n");
        words.length = 0;
    }
    vs_text_free(&words);
}

static void numbers(vs_sheet *s, size_t shot, const char *name, const char *key, vs_bands value) {
    vs_text_addf(s->out, "<dt>%s</dt>", name);
    for (size_t b = 0; b < VS_BAND_COUNT; b++) {
        vs_text_addf(s->out, "<dd>");
        vs_sheet_decimals(s->out, 4, value.v[b], "grade/%zu/cdl/%s/%zu", shot, key, b);
        vs_text_addf(s->out, "</dd>");
    }
    vs_text_addf(s->out, "\n");
}

static void grade_cell(vs_sheet *s, size_t shot) {
    const vs_sheet_shot *row = &s->answer->shot[shot];
    const vs_shot_grade *grade = row->grade;
    vs_text_addf(s->out, "<td class=\"grade\">");
    if (!grade) {
        vs_sheet_text(s->out, row->no_grade);
        vs_text_addf(s->out, "</td>\n");
        return;
    }
    vs_text_addf(s->out, "<div>");
    vs_sheet_text(s->out, row->prediction->shot->point[grade->point].name);
    vs_text_addf(s->out, ": noise ");
    vs_sheet_stops(s->out, 1, grade->noise.added_stops, "grade/%zu/noise_stops", shot);
    vs_text_addf(s->out, ", sat ");
    vs_sheet_decimals(s->out, 4, grade->cdl.cdl.saturation, "grade/%zu/cdl/saturation", shot);
    vs_text_addf(s->out, "</div>\n<dl class=\"numbers\">");
    numbers(s, shot, "slope", "slope", grade->cdl.cdl.slope);
    numbers(s, shot, "offset", "offset", grade->cdl.cdl.offset);
    numbers(s, shot, "power", "power", grade->cdl.cdl.power);
    vs_text_addf(s->out, "</dl></td>\n");
}

static void row(vs_sheet *s, size_t place) {
    size_t shot = vs_sheet_shot_at(s, place);
    vs_text_addf(s->out, "<tr>\n");
    name_cell(s, place, shot);
    picture_cell(s, shot);
    haze_cell(s, shot);
    vs_text_addf(s->out, "<td class=\"does\">");
    black_line(s, shot);
    beam_lines(s, shot);
    missed_lines(s, shot);
    vs_text_addf(s->out, "</td>\n");
    grade_cell(s, shot);
    vs_text_addf(s->out, "</tr>\n");
}

void vs_sheet_shots(vs_sheet *s) {
    size_t count = vs_sheet_shot_count(s);
    vs_text_addf(s->out,
                 "<h2>Shots, in shooting order</h2>\n<section class=\"wide\" "
                 "tabindex=\"0\" aria-label=\"Shots\">\n<table "
                 "class=\"shots\">\n<thead><tr><th scope=\"col\">shot</th>"
                 "<th scope=\"col\">camera sees</th>"
                 "<th scope=\"col\">haze at the camera</th><th scope=\"col\">what it does</th>"
                 "<th scope=\"col\">grade: R G B, noise in stops</th></tr></thead>\n<tbody>\n");
    for (size_t place = 0; place < count; place++) {
        row(s, place);
    }
    vs_text_addf(s->out, "</tbody>\n</table>\n</section>\n");
}
