/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/report/match.h"

#include <math.h>

#include "veilstop/base/units.h"

static double degrees(double rad) {
    return rad / VS_RAD_PER_DEG;
}

static double focal_mm(const vs_report_match *m) {
    return m->camera.focal_m / VS_M_PER_MM;
}

static void place(vs_text *out, const vs_style *style, vs_vec3 at_m) {
    vs_text_addf(out, "%.2f, %.2f, %.2f %s", vs_style_length(style, at_m.x),
                 vs_style_length(style, at_m.y), vs_style_length(style, at_m.z),
                 vs_style_length_unit(style));
}

static void add_pairs(vs_text *out, const vs_style *style, const vs_report_match *m) {
    vs_text_addf(out, "  %8s %8s  %-24s %9s\n", "pixel x", "y", "place", "off, px");
    for (size_t i = 0; i < m->count; i++) {
        vs_text at;
        vs_text_init(&at);
        place(&at, style, m->pair[i].at_m);
        vs_text_addf(out, "  %8.1f %8.1f  ", m->pair[i].x_px, m->pair[i].y_px);
        vs_style_cell(out, vs_text_words(&at, out), 24, false);
        vs_text_addf(out, "%9.1f%s\n", m->match.off_px[i],
                     m->match.used[i] ? "" : "  left out: it does not go with the others");
        vs_text_free(&at);
    }
}

void vs_report_match_text(vs_text *out, const vs_style *style, const vs_report_match *m) {
    const vs_match *found = &m->match;
    char number[16];
    vs_text_addf(out, "camera of the photo, by %zu pairs:\n  stands at    ", found->used_count);
    place(out, style, m->camera.at_m);
    double sd_m = vs_vec3_length(found->at_sd_m);
    vs_text_addf(out, ", +- %s %s\n  aims at      ",
                 vs_style_number(vs_style_length(style, sd_m), number),
                 vs_style_length_unit(style));
    place(out, style, m->camera.aim_m);
    vs_text_addf(out, ", +- %.2f degrees\n  rolled       %+.2f degrees, +- %.2f\n",
                 degrees(found->aim_sd_rad), degrees(m->camera.roll_rad),
                 degrees(found->roll_sd_rad));
    vs_text_addf(out, "  focal length %.2f mm on %.1f x %.1f mm, ", focal_mm(m),
                 m->camera.sensor_width_m / VS_M_PER_MM, m->camera.sensor_height_m / VS_M_PER_MM);
    if (m->focal_known) {
        vs_text_addf(out, "as told\n");
    } else {
        vs_text_addf(out, "+- %.2f mm\n", focal_mm(m) * found->focal_sd);
    }
    vs_text_addf(out, "  places drawn %.1f pixels off where they were seen (rms)\n",
                 found->residual_px);
    add_pairs(out, style, m);
    for (size_t i = 0; i < found->other_count; i++) {
        vs_text_addf(out, "  these pairs go as well with a camera at ");
        place(out, style, found->other_pose[i].at_m);
        vs_text_addf(out, ": one more pair decides\n");
    }
}

void vs_report_match_json(vs_json *json, const vs_report_match *m) {
    const vs_match *found = &m->match;
    vs_json_open_object(json, "camera");
    vs_json_string(json, "name", m->camera.name);
    vs_json_vec3(json, "at", m->camera.at_m);
    vs_json_vec3(json, "aim", m->camera.aim_m);
    vs_json_number(json, "roll_deg", degrees(m->camera.roll_rad));
    vs_json_number(json, "focal_mm", focal_mm(m));
    vs_json_number(json, "residual_px", found->residual_px);
    vs_json_bool(json, "focal_known", m->focal_known);
    vs_json_open_object(json, "uncertainty");
    vs_json_vec3(json, "at", found->at_sd_m);
    vs_json_number(json, "aim_deg", degrees(found->aim_sd_rad));
    vs_json_number(json, "roll_deg", degrees(found->roll_sd_rad));
    vs_json_number(json, "focal_mm", focal_mm(m) * found->focal_sd);
    vs_json_close_object(json);
    vs_json_open_array(json, "pairs");
    for (size_t i = 0; i < m->count; i++) {
        vs_json_open_object(json, NULL);
        vs_json_number(json, "x_px", m->pair[i].x_px);
        vs_json_number(json, "y_px", m->pair[i].y_px);
        vs_json_vec3(json, "at", m->pair[i].at_m);
        vs_json_number(json, "off_px", found->off_px[i]);
        vs_json_bool(json, "used", found->used[i]);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
    vs_json_open_array(json, "others");
    for (size_t i = 0; i < found->other_count; i++) {
        vs_json_vec3(json, NULL, found->other_pose[i].at_m);
    }
    vs_json_close_array(json);
    vs_json_close_object(json);
}
