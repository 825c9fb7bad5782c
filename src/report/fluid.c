/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A fluid's figures in the order in which people ask: how thick, what colour, how long it lasts,
 * into which directions it scatters, how sure. Meanings: docs/scene.md, "Fluids"; shot/fluid.h. */
#include "veilstop/report/fluid.h"

#include <math.h>
#include <stdio.h>

#include "veilstop/base/lognormal.h"
#include "veilstop/base/units.h"

#define CELL   12 /* [columns] of a figure */
#define LABEL  22 /* [columns] before the figures */
#define INDENT 26 /* [columns] before the text of a source */

static const char *const status_text[] = {"read", "from memory", "common practice", "worked out",
                                          "ASSUMED"};

static double mass_median_m(const vs_fluid *fluid) {
    return vs_lognormal_diameter(fluid->median_m, fluid->gsd, VS_LOGNORMAL_MASS_MEDIAN);
}

static double phase_at(const vs_haze_line *line, int deg) {
    return vs_phase_per_sr(&line->phase, cos(deg * VS_RAD_PER_DEG));
}

/* ---- the table ---- */

static void add_title(vs_text *out, const vs_style *style, const vs_fluid_label *label,
                      const vs_fluid *fluid) {
    vs_style_words(out, style, VS_INK_HEAD, label->name);
    if (label->title) {
        vs_text_addf(out, ": %s", label->title);
    }
    vs_text_addf(out, " (%s)\n", vs_fluid_class_words[fluid->class_]);
    if (fluid->measured) {
        vs_text_addf(out, "  as measured: grey, forward %.4g\n", fluid->g);
        return;
    }
    vs_text_addf(out,
                 "  droplets of %.3g um by mass, %.3g um by count (middle sizes; spread %.3g)\n",
                 mass_median_m(fluid) * VS_UM_PER_M, fluid->median_m * VS_UM_PER_M, fluid->gsd);
}

static void add_lines(vs_text *out, const vs_style *style, const vs_fluid_answer *a) {
    static const char *const columns[] = {"m2/g", "albedo", "forward"};
    vs_style_words(out, style, VS_INK_HEAD, "\nlight that a gram of droplets takes\n");
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_style_cell(out, "", LABEL, false);
    for (int i = 0; i < 3; i++) {
        vs_style_cell(out, columns[i], CELL, true);
    }
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < a->line_count; i++) {
        char name[32];
        snprintf(name, sizeof name, "  %.5g nm", a->wavelength_m[i] * VS_NM_PER_M);
        vs_style_cell(out, name, LABEL, false);
        vs_style_figure(out, CELL, "%#.4g", a->line[i].extinction_m2_per_g);
        vs_style_figure(out, CELL, "%.4f", a->line[i].albedo);
        vs_style_figure(out, CELL, "%.4f", a->line[i].phase.g);
        vs_style_end_line(out);
    }
}

static void add_change(vs_text *out, double size, double ratio) {
    if (!isnan(ratio)) {
        vs_text_addf(out, "  droplets %.2g times as large: %+.0f %% haze from the same fluid\n",
                     size, 100 * (ratio - 1));
    }
}

static void add_consequences(vs_text *out, const vs_style *style, const vs_fluid_answer *a) {
    char range[16];
    vs_style_words(out, style, VS_INK_HEAD, "\nin the air\n");
    vs_text_addf(out, "  %.3g mg/m3 give a visibility of %s %s\n", a->mass_g_per_m3 * VS_MG_PER_G,
                 vs_style_number(vs_style_length(style, VS_FLUID_RANGE_M), range),
                 vs_style_length_unit(style));
    add_change(out, VS_FLUID_SMALLER, a->smaller_ratio);
    add_change(out, VS_FLUID_LARGER, a->larger_ratio);
    if (a->settling_m_per_s > 0) {
        vs_text_addf(out, "  settling: falls %.3g %s in an hour\n",
                     vs_style_length(style, a->settling_m_per_s * VS_S_PER_H),
                     vs_style_length_unit(style));
    } else {
        vs_text_addf(out, "  settling: none\n");
    }
    if (isinf(a->fluid->half_life_s)) {
        vs_text_addf(out, "  evaporation: none\n");
    } else {
        vs_text_addf(out, "  evaporation: half gone in %.3g min by it alone\n",
                     a->fluid->half_life_s / VS_S_PER_MIN);
    }
}

static void add_phase(vs_text *out, const vs_style *style, const vs_fluid_answer *a) {
    static const int degrees[] = {0,  1,  2,   5,   10,  20,  30,  45,  60,
                                  75, 90, 105, 120, 135, 150, 160, 170, 180};
    vs_style_words(
        out, style, VS_INK_HEAD,
        "\nlight sent on per sr, by the angle from straight on (0 deg: towards the lamp)\n");
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_style_cell(out, "", LABEL, false);
    for (size_t l = 0; l < a->line_count; l++) {
        vs_style_figure(out, CELL, "%.5g nm", a->wavelength_m[l] * VS_NM_PER_M);
    }
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < sizeof degrees / sizeof degrees[0]; i++) {
        char name[32];
        snprintf(name, sizeof name, "  %d deg", degrees[i]);
        vs_style_cell(out, name, LABEL, false);
        for (size_t l = 0; l < a->line_count; l++) {
            vs_style_figure(out, CELL, "%.5f", phase_at(&a->line[l], degrees[i]));
        }
        vs_style_end_line(out);
    }
}

static void add_sources(vs_text *out, const vs_style *style, const vs_fluid_label *label) {
    if (label->source_count == 0) {
        return;
    }
    vs_style_words(out, style, VS_INK_HEAD, "\nwhere the figures come from\n");
    for (size_t i = 0; i < label->source_count; i++) {
        const vs_fluid_source *s = &label->source[i];
        vs_text_addf(out, "  ");
        vs_style_cell(out, s->figure, INDENT - 3, false);
        vs_text words;
        vs_text_init(&words);
        vs_text_addf(&words, "%s: %s", status_text[s->status], s->text);
        vs_style_wrap(out, vs_text_words(&words, out), INDENT);
        vs_text_free(&words);
    }
}

void vs_report_fluid_text(vs_text *out, const vs_style *style, const vs_fluid_label *label,
                          const vs_fluid_answer *answer) {
    add_title(out, style, label, answer->fluid);
    add_lines(out, style, answer);
    add_consequences(out, style, answer);
    add_phase(out, style, answer);
    add_sources(out, style, label);
}

/* ---- JSON ---- */

static void add_line_json(vs_json *json, double wavelength_m, const vs_haze_line *line) {
    vs_json_open_object(json, NULL);
    vs_json_number(json, "nm", wavelength_m * VS_NM_PER_M);
    vs_json_number(json, "extinction_m2_per_g", line->extinction_m2_per_g);
    vs_json_number(json, "albedo", line->albedo);
    vs_json_number(json, "g", line->phase.g);
    vs_json_open_array(json, "phase_per_sr");
    for (int deg = 0; deg <= 180; deg++) {
        vs_json_open_object(json, NULL);
        vs_json_integer(json, "deg", deg);
        vs_json_number(json, "value", phase_at(line, deg));
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
    vs_json_close_object(json);
}

static void add_droplets_json(vs_json *json, const vs_fluid *fluid) {
    if (fluid->measured) {
        vs_json_null(json, "droplets");
        return;
    }
    vs_json_open_object(json, "droplets");
    vs_json_number(json, "median_um", fluid->median_m * VS_UM_PER_M);
    vs_json_number(json, "mass_median_um", mass_median_m(fluid) * VS_UM_PER_M);
    vs_json_number(json, "gsd", fluid->gsd);
    vs_json_close_object(json);
}

static void add_size_json(vs_json *json, const vs_fluid_answer *a) {
    vs_json_open_object(json, "extinction_ratio_by_size");
    vs_json_number_or_null(json, "0.5", a->smaller_ratio);
    vs_json_number_or_null(json, "1.5", a->larger_ratio);
    vs_json_close_object(json);
}

static void add_assumed_json(vs_json *json, const vs_fluid_label *label) {
    vs_json_open_array(json, "assumed");
    for (size_t i = 0; i < label->source_count; i++) {
        if (label->source[i].status == VS_SOURCE_ASSUMED) {
            vs_json_string(json, NULL, label->source[i].figure);
        }
    }
    vs_json_close_array(json);
}

static void add_sources_json(vs_json *json, const vs_fluid_label *label) {
    vs_json_open_array(json, "sources");
    for (size_t i = 0; i < label->source_count; i++) {
        vs_json_open_object(json, NULL);
        vs_json_string(json, "figure", label->source[i].figure);
        vs_json_string(json, "status", vs_source_words[label->source[i].status]);
        vs_json_string(json, "source", label->source[i].text);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

void vs_report_fluid_json(vs_json *json, const vs_fluid_label *label,
                          const vs_fluid_answer *answer) {
    const vs_fluid *fluid = answer->fluid;
    vs_json_open_object(json, NULL);
    vs_json_string(json, "command", "fluid");
    vs_json_string(json, "fluid", label->name);
    vs_json_string(json, "title", label->title);
    vs_json_string(json, "class", vs_fluid_class_words[fluid->class_]);
    add_droplets_json(json, fluid);
    vs_json_open_array(json, "bands");
    for (size_t i = 0; i < answer->line_count; i++) {
        add_line_json(json, answer->wavelength_m[i], &answer->line[i]);
    }
    vs_json_close_array(json);
    vs_json_number(json, "settling_m_per_s", answer->settling_m_per_s);
    vs_json_finite_or_null(json, "half_life_min", fluid->half_life_s / VS_S_PER_MIN);
    vs_json_number(json, "mass_mg_per_m3_for_100_m", answer->mass_g_per_m3 * VS_MG_PER_G);
    add_size_json(json, answer);
    add_assumed_json(json, label);
    add_sources_json(json, label);
    vs_json_close_object(json);
}
