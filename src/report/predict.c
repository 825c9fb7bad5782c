/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of a shot: the figures that a crew sets and sees come first on each line. */
#include "veilstop/report/predict.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/camera/view.h"
#include "veilstop/report/rooms.h"
#include "veilstop/report/words.h"

#define NAME_COLUMNS  15 /* [columns] of a name in a table */
#define PAIR_COLUMNS  36 /* [columns] of a pair of points */
#define SHARE_COLUMNS 32 /* [columns] of two lamps and their shares */

const char *vs_report_reads_word(vs_reads reads) {
    static const char *const word[] = {"no", "barely", "soft", "clear", "strong"};
    return word[reads];
}

const char *vs_report_beam_word(vs_reads reads) {
    return reads == VS_READS_NOT ? "not seen" : vs_report_reads_word(reads);
}

/* "medium, visibility 130 m; 0.0300 /m; 0.43 stops lost per 10 m; ...". */
static void add_haze(vs_text *out, const vs_style *style, const vs_density *d) {
    bool feet = style->units == VS_LENGTH_FT;
    char mass[16];
    vs_text_addf(out, "%s", vs_report_haze_word(d->extinction_per_m));
    if (!(d->extinction_per_m > 0)) {
        return;
    }
    vs_text_addf(out, ", visibility ");
    vs_report_visibility(out, style, d->visible_range_m);
    vs_text_addf(out, "; ");
    vs_report_density(out, d->extinction_per_m);
    vs_text_addf(out, "; %.2f stops lost per %s; %s mg/m3 planned",
                 feet ? d->stops_lost_per_10_m * VS_M_PER_FT : d->stops_lost_per_10_m,
                 feet ? "10 ft" : "10 m", vs_style_number(d->mass_mg_per_m3, mass));
}

static void shot_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_shot_prediction *p) {
    char grey[16];
    const vs_camera *camera = &scene->camera[p->shot->camera];
    vs_text words;
    vs_text_init(&words);
    vs_style_words(out, style, VS_INK_HEAD, p->shot->name);
    vs_text_addf(&words, "camera %s, T%.3g, ISO %.4g; middle grey is %s %s", camera->name,
                 camera->t_stop, camera->iso,
                 vs_style_number(vs_style_luminance(style, p->grey_nits), grey),
                 vs_style_luminance_unit(style));
    vs_text_addf(out, "   ");
    vs_style_wrap(out, vs_text_words(&words, out), 4);
    vs_text_free(&words);
    vs_text_addf(out, p->density.extinction_per_m > 0 ? "  haze: " : "  ");
    add_haze(&words, style, &p->density);
    vs_style_wrap(out, vs_text_words(&words, out), 4);
    vs_text_free(&words);
    if (vs_report_other_rooms(&words, scene, p->shot, p->room_extinction_per_m)) {
        vs_text_addf(out, "  other rooms: ");
        vs_style_wrap(out, vs_text_words(&words, out), 4);
    }
    vs_text_free(&words);
}

/* Adds "key 62 %" if it fits the column; a first name that does not fit is cut, its figure
 * never. */
static void add_share(vs_text *out, const char *name, double percent) {
    char figure[16];
    snprintf(figure, sizeof figure, " %.0f %%", percent);
    size_t used = out->bytes ? vs_text_columns(out->bytes) + 2 : 0;
    size_t needed = used + vs_text_columns(name) + vs_text_columns(figure);
    if (used == 0 && needed > SHARE_COLUMNS) {
        vs_style_cell(out, name, SHARE_COLUMNS - vs_text_columns(figure) - 1, false);
        vs_text_addf(out, "%s", figure);
    } else if (needed <= SHARE_COLUMNS) {
        vs_text_addf(out, "%s%s%s", used ? ", " : "", name, figure);
    }
}

/* The two lights that make most of a point's veil, "key 62 %, room bounce 20 %"; the second only if
 * it fits. */
static void main_shares(vs_text *out, const vs_scene *scene, const vs_point_prediction *point) {
    double total = vs_bands_luminance(point->veil_nits);
    size_t taken = VS_NONE;
    for (int turn = 0; turn < 2 && total > 0; turn++) {
        size_t best = VS_NONE;
        double most = 0;
        for (size_t i = 0; i <= scene->light_count; i++) {
            double nits = vs_bands_luminance(i == scene->light_count ? point->indirect_veil
                                                                     : point->veil_by_light[i]);
            if (i != taken && nits > most) {
                most = nits;
                best = i;
            }
        }
        if (best == VS_NONE || most < total / 100) {
            return;
        }
        add_share(out, best == scene->light_count ? "room bounce" : scene->light[best].name,
                  100 * most / total);
        taken = best;
    }
}

/* A luminance in stops over or under middle grey, the camera's floor added to both. */
static void grey_cell(vs_text *out, const vs_camera *camera, size_t columns, double nits) {
    if (nits > 0) {
        vs_style_stops(out, columns,
                       vs_camera_stops_between(camera, nits, vs_camera_grey_nits(camera)));
    } else {
        vs_style_cell(out, "-", columns, true);
    }
}

static void point_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_shot_prediction *prediction, size_t i) {
    const vs_point_prediction *p = &prediction->point[i];
    const vs_camera *camera = &scene->camera[prediction->shot->camera];
    double clear_nits = vs_bands_luminance(p->clear_nits);
    double veil_nits = vs_bands_luminance(p->veil_nits);
    vs_text shares;
    vs_text_init(&shares);
    main_shares(&shares, scene, p);
    vs_text_addf(out, "  ");
    vs_style_cell(out, prediction->shot->point[i].name, NAME_COLUMNS, false);
    vs_style_figure(out, 5, "%.1f", vs_style_length(style, p->distance_m));
    vs_style_number_cell(out, 6, vs_style_luminance(style, clear_nits));
    grey_cell(out, camera, 7, clear_nits);
    vs_style_stops(out, 6, p->change_stops);
    vs_style_figure(out, 5, "%.1f", p->black_percent);
    vs_style_cell(out, vs_report_black_word(vs_camera_linear(camera, veil_nits)), 6, false);
    grey_cell(out, camera, 7, veil_nits);
    vs_text_addf(out, " ");
    vs_style_cell(out, vs_text_words(&shares, out), SHARE_COLUMNS, false);
    vs_style_end_line(out);
    vs_text_free(&shares);
}

/* Heads of the columns: words above units. */
static void point_heads(vs_text *out, const vs_style *style, const vs_camera *camera) {
    vs_text curve;
    vs_text_init(&curve);
    vs_text_addf(&curve, "%% %s", vs_curve_name(&camera->curve));
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "", NAME_COLUMNS, false);
    vs_style_cell(out, "away", 5, true);
    vs_style_cell(out, "light", 6, true);
    vs_style_cell(out, "", 7, true);
    vs_style_cell(out, "change", 6, true);
    vs_style_cell(out, "black", 12, false);
    vs_style_cell(out, "veil", 7, true);
    vs_style_end_line(out);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "point", NAME_COLUMNS, false);
    vs_style_cell(out, vs_style_length_unit(style), 5, true);
    vs_style_cell(out, vs_style_luminance_unit(style), 6, true);
    vs_style_cell(out, "to grey", 7, true);
    vs_style_cell(out, "stops", 6, true);
    vs_style_cell(out, vs_text_words(&curve, out), 12, false);
    vs_style_cell(out, "to grey", 7, true);
    vs_text_addf(out, " veil made by");
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    vs_text_free(&curve);
}

static void points(vs_text *out, const vs_style *style, const vs_scene *scene,
                   const vs_shot_prediction *p) {
    if (p->shot->point_count > 0) {
        point_heads(out, style, &scene->camera[p->shot->camera]);
    }
    for (size_t i = 0; i < p->shot->point_count; i++) {
        point_line(out, style, scene, p, i);
    }
}

/* Writes a sentence under the table, wrapped, and clears it for the next. */
static void sentence(vs_text *out, vs_text *line) {
    vs_text_addf(out, "  ");
    vs_style_wrap(out, vs_text_words(line, out), 4);
    vs_text_free(line);
}

static void beam_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_shot_prediction *p) {
    vs_text line;
    vs_text_init(&line);
    for (size_t i = 0; i < p->beam_count + p->extra_beam_count; i++) {
        const vs_beam_prediction *beam = &p->beam[i];
        if (i >= p->beam_count && beam->reads == VS_READS_NOT) {
            continue; /* nobody asked for it, and it is invisible */
        }
        if (isnan(beam->near_m.x)) {
            vs_text_addf(&line, "beam of %s: not in frame", scene->light[beam->light].name);
            sentence(out, &line);
            continue;
        }
        vs_text_addf(&line, "beam of %s: %s, %.2f stops over what is behind it",
                     scene->light[beam->light].name, vs_report_beam_word(beam->reads),
                     beam->over_stops);
        if (!isnan(beam->edge_stops)) {
            vs_text_addf(&line, ", %.2f %s what is beside it", fabs(beam->edge_stops),
                         beam->edge_stops < 0 ? "under" : "over");
        }
        if (!isnan(beam->reads_from_m)) {
            vs_text_addf(&line, "; %sreads from %.1f to %.1f %s of its throw",
                         beam->reads < VS_READS_SOFT ? "elsewhere it " : "",
                         vs_style_length(style, beam->reads_from_m),
                         vs_style_length(style, beam->reads_to_m), vs_style_length_unit(style));
        }
        if (beam->crossing != VS_NONE) {
            vs_text_addf(&line,
                         "; the beam of %s crosses it there and is counted in what is "
                         "behind",
                         scene->light[beam->crossing].name);
        }
        sentence(out, &line);
    }
}

static void pair_name(vs_text *out, const vs_scene_shot *shot, size_t a, size_t b) {
    vs_text pair;
    vs_text_init(&pair);
    vs_text_addf(&pair, "%s / %s", shot->point[a].name, shot->point[b].name);
    vs_text_addf(out, "  ");
    vs_style_cell(out, vs_text_words(&pair, out), PAIR_COLUMNS, false);
    vs_text_free(&pair);
}

static bool has_veil(const vs_shot_prediction *p) {
    double nits = 0;
    for (size_t i = 0; i < p->shot->point_count; i++) {
        nits += vs_bands_luminance(p->point[i].veil_nits);
    }
    return nits > 0;
}

/* Writes that a pair cannot be compared; false if both points are seen. */
static bool pair_is_hidden(vs_text *out, const vs_shot_prediction *p, size_t a, size_t b) {
    size_t hidden = p->point[a].hidden ? a : p->point[b].hidden ? b : VS_NONE;
    if (hidden != VS_NONE) {
        vs_text_addf(out, "not compared: %s is hidden\n", p->shot->point[hidden].name);
    }
    return hidden != VS_NONE;
}

static void pair_lines(vs_text *out, const vs_shot_prediction *p) {
    for (size_t i = 0; i < p->contrast_count; i++) {
        const vs_contrast_prediction *c = &p->contrast[i];
        pair_name(out, p->shot, c->a, c->b);
        if (pair_is_hidden(out, p, c->a, c->b)) {
            continue;
        }
        if (c->lost_stops > fabs(c->clear_stops)) {
            vs_text_addf(out, "contrast turns over: %.2f stops, then %.2f the other way\n",
                         fabs(c->clear_stops), fabs(c->hazed_stops));
        } else {
            vs_text_addf(out, "contrast %s %.2f of %.2f stops\n",
                         c->lost_stops < 0 ? "gains" : "loses", fabs(c->lost_stops),
                         fabs(c->clear_stops));
        }
    }
    for (size_t i = 0; i < p->separation_count && has_veil(p); i++) {
        const vs_separation_prediction *s = &p->separation[i];
        if (p->point[s->near_point].hidden || p->point[s->far_point].hidden) {
            continue; /* said with the contrasts, or by the want */
        }
        pair_name(out, p->shot, s->near_point, s->far_point);
        vs_text_addf(out,
                     s->stops < 0 ? "haze does not separate them: near has %.2f stops more veil\n"
                                  : "haze separates them by %.2f stops\n",
                     fabs(s->stops));
    }
}

/* The width of a round glow in the middle of a frame, as a share of the frame's width [1]. */
static double width_share(const vs_camera *camera, double rad) {
    vs_view view = vs_view_make(camera);
    return rad < VS_PI / 2 ? fmin(1, tan(rad) / view.half_width) : 1;
}

static void glow_lines(vs_text *out, const vs_scene *scene, const vs_shot_prediction *p) {
    const vs_camera *camera = &scene->camera[p->shot->camera];
    vs_text line;
    vs_text_init(&line);
    for (size_t i = 0; i < scene->light_count; i++) {
        if (p->glow[i].seen && p->glow[i].tenth_rad > 0) {
            double grey = 100 * width_share(camera, p->glow[i].grey_rad);
            vs_text_addf(&line, "glow of %s: %.0f %% of the frame's width over a tenth of grey",
                         scene->light[i].name, 100 * width_share(camera, p->glow[i].tenth_rad));
            if (grey >= 0.5) {
                vs_text_addf(&line, ", %.0f %% over grey", grey);
            }
            sentence(out, &line);
        }
    }
}

static void want_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_predict_answer *answer) {
    const vs_scene_shot *shot = answer->prediction->shot;
    vs_text line;
    vs_text_init(&line);
    for (size_t i = 0; i < shot->want_count; i++) {
        bool met = answer->want[i].met;
        const char *verdict = met ? "  met:     " : "  NOT met: ";
        vs_style_words(out, style, met ? VS_INK_GOOD : VS_INK_BAD, verdict);
        vs_report_want(&line, style, scene, shot, &shot->want[i]);
        size_t hidden = vs_want_hidden_point(answer->prediction, i);
        if (hidden != VS_NONE) {
            vs_text_addf(&line, "; %s is hidden", shot->point[hidden].name);
        } else {
            vs_text_addf(&line, "; it is ");
            vs_report_want_value(&line, style, &shot->want[i], answer->want[i].value);
        }
        vs_style_wrap(out, vs_text_words(&line, out), 11);
        vs_text_free(&line);
    }
}

static void notice_lines(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_shot_prediction *p) {
    vs_text line;
    vs_text_init(&line);
    for (size_t i = 0; vs_report_predict_notice(&line, style, scene, p, i); i++) {
        vs_text_addf(out, "  note: ");
        vs_style_wrap(out, vs_text_words(&line, out), 4);
        vs_text_free(&line);
    }
    (void)vs_text_words(&line, out); /* the last may have run out of memory */
    vs_text_free(&line);
}

void vs_report_predict_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                            const vs_predict_answer *answer) {
    const vs_shot_prediction *p = answer->prediction;
    shot_lines(out, style, scene, p);
    points(out, style, scene, p);
    pair_lines(out, p);
    beam_lines(out, style, scene, p);
    glow_lines(out, scene, p);
    want_lines(out, style, scene, answer);
    notice_lines(out, style, scene, p);
}
