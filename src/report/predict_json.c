/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The JSON of a prediction; its keys: docs/output.md. */
#include "veilstop/report/predict.h"

#include "veilstop/report/rooms.h"

/* Visibility in clear air is unlimited: null. */
static void density(vs_json *json, const vs_density *d) {
    vs_json_open_object(json, "density");
    vs_json_number(json, "extinction_per_m", d->extinction_per_m);
    vs_json_bands(json, "bands_per_m", d->bands_per_m);
    vs_json_number(json, "mass_mg_per_m3", d->mass_mg_per_m3);
    vs_json_finite_or_null(json, "visible_range_m", d->visible_range_m);
    vs_json_finite_or_null(json, "optical_range_m", d->optical_range_m);
    vs_json_number(json, "stops_lost_per_10_m", d->stops_lost_per_10_m);
    vs_json_number(json, "db_per_m", d->db_per_m);
    vs_json_number(json, "percent_per_ft", d->percent_per_ft);
    vs_json_close_object(json);
}

static void veil_by_light(vs_json *json, const vs_scene *scene, const vs_scene_shot *shot,
                          const vs_point_prediction *point) {
    vs_json_open_object(json, "veil_by_light");
    for (size_t i = 0; i < scene->light_count; i++) {
        if (vs_shot_uses_light(shot, i) && !scene->light[i].is_part) {
            vs_json_number(json, scene->light[i].name, vs_bands_luminance(point->veil_by_light[i]));
        }
    }
    vs_json_number(json, "indirect", vs_bands_luminance(point->indirect_veil));
    vs_json_close_object(json);
    vs_json_open_object(json, "indirect_by_light");
    for (size_t i = 0; i < scene->light_count; i++) {
        if (vs_shot_uses_light(shot, i) && !scene->light[i].is_part) {
            vs_json_number(json, scene->light[i].name,
                           vs_bands_luminance(point->indirect_by_light[i]));
        }
    }
    vs_json_close_object(json);
}

static void point(vs_json *json, const vs_scene *scene, const vs_scene_shot *shot,
                  const vs_scene_point *at, const vs_point_prediction *p) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "name", at->name);
    vs_json_number(json, "distance_m", p->distance_m);
    vs_json_number(json, "transmission", vs_bands_luminance(p->transmission));
    vs_json_bands(json, "bands_transmission", p->transmission);
    vs_json_number(json, "clear_nits", vs_bands_luminance(p->clear_nits));
    vs_json_number(json, "surface_nits", vs_bands_luminance(p->surface_nits));
    vs_json_number(json, "veil_nits", vs_bands_luminance(p->veil_nits));
    vs_json_bands(json, "bands_veil_nits", p->veil_nits);
    vs_json_number(json, "hazed_nits", vs_bands_luminance(p->hazed_nits));
    vs_json_number(json, "change_stops", p->change_stops);
    vs_json_number(json, "black_percent", p->black_percent);
    vs_json_number(json, "black_lift_percent", p->black_lift_percent);
    vs_json_bool(json, "hidden", p->hidden);
    vs_json_number_or_null(json, "hidden_at_m", p->hidden_at_m);
    vs_json_string(json, "hidden_by", p->hidden_by);
    vs_json_bool(json, "in_frame", p->in_frame);
    vs_json_bool(json, "clipped", p->clipped);
    veil_by_light(json, scene, shot, p);
    vs_json_close_object(json);
}

static void between(vs_json *json, const vs_scene_shot *shot, size_t a, size_t b) {
    vs_json_open_array(json, "between");
    vs_json_string(json, NULL, shot->point[a].name);
    vs_json_string(json, NULL, shot->point[b].name);
    vs_json_close_array(json);
}

static void contrasts(vs_json *json, const vs_shot_prediction *p) {
    vs_json_open_array(json, "contrasts");
    for (size_t i = 0; i < p->contrast_count; i++) {
        vs_json_open_object(json, NULL);
        between(json, p->shot, p->contrast[i].a, p->contrast[i].b);
        vs_json_number(json, "clear_stops", p->contrast[i].clear_stops);
        vs_json_number(json, "hazed_stops", p->contrast[i].hazed_stops);
        vs_json_number(json, "lost_stops", p->contrast[i].lost_stops);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void beams(vs_json *json, const vs_scene *scene, const vs_shot_prediction *p) {
    vs_json_open_array(json, "beams");
    for (size_t i = 0; i < p->beam_count + p->extra_beam_count; i++) {
        const vs_beam_prediction *beam = &p->beam[i];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "light", scene->light[beam->light].name);
        vs_json_vec3_or_null(json, "near", beam->near_m);
        vs_json_bool(json, "wanted", i < p->beam_count);
        vs_json_number(json, "beam_nits", beam->beam_nits);
        vs_json_number(json, "background_nits", beam->background_nits);
        vs_json_number(json, "over_background_stops", beam->over_stops);
        vs_json_number_or_null(json, "edge_stops", beam->edge_stops);
        vs_json_string(json, "reads", vs_report_reads_word(beam->reads));
        vs_json_number_or_null(json, "reads_from_m", beam->reads_from_m);
        vs_json_number_or_null(json, "reads_to_m", beam->reads_to_m);
        vs_json_string(json, "crossed_by",
                       beam->crossing == VS_NONE ? NULL : scene->light[beam->crossing].name);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void separations(vs_json *json, const vs_shot_prediction *p) {
    vs_json_open_array(json, "separations");
    for (size_t i = 0; i < p->separation_count; i++) {
        vs_json_open_object(json, NULL);
        between(json, p->shot, p->separation[i].near_point, p->separation[i].far_point);
        vs_json_number(json, "stops", p->separation[i].stops);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
}

static void glows(vs_json *json, const vs_scene *scene, const vs_shot_prediction *p) {
    vs_json_open_array(json, "glow");
    for (size_t i = 0; i < scene->light_count; i++) {
        if (p->glow[i].seen) {
            vs_json_open_object(json, NULL);
            vs_json_string(json, "light", scene->light[i].name);
            vs_json_number(json, "tenth_deg", p->glow[i].tenth_rad / VS_RAD_PER_DEG);
            vs_json_number(json, "grey_deg", p->glow[i].grey_rad / VS_RAD_PER_DEG);
            vs_json_close_object(json);
        }
    }
    vs_json_close_array(json);
}

static void wants(vs_json *json, const vs_scene *scene, const vs_predict_answer *answer) {
    const vs_scene_shot *shot = answer->prediction->shot;
    const vs_style style = {VS_LENGTH_M, false};
    vs_json_open_array(json, "wants");
    for (size_t i = 0; i < shot->want_count; i++) {
        const vs_want_result *result = &answer->want[i];
        vs_want_kind kind = shot->want[i].kind;
        vs_text words;
        vs_text_init(&words);
        vs_report_want(&words, &style, scene, shot, &shot->want[i]);
        vs_json_open_object(json, NULL);
        vs_json_string(json, "want", vs_report_want_name(shot->want[i].kind));
        vs_json_string(json, "words", vs_text_words(&words, json->out));
        vs_json_finite_or_null(json, "value", vs_report_want_figure(&style, kind, result->value));
        vs_json_number(json, result->at_most ? "at_most" : "at_least",
                       vs_report_want_figure(&style, kind, shot->want[i].limit));
        vs_json_bool(json, "met", result->met);
        vs_json_close_object(json);
        vs_text_free(&words);
    }
    vs_json_close_array(json);
}

void vs_report_predict_json(vs_json *json, const vs_scene *scene, const vs_predict_answer *answer) {
    const vs_shot_prediction *p = answer->prediction;
    const vs_style metres = {VS_LENGTH_M, false};
    vs_text notice;
    vs_text_init(&notice);
    vs_json_open_object(json, NULL);
    vs_json_string(json, "name", p->shot->name);
    vs_json_string(json, "camera", scene->camera[p->shot->camera].name);
    density(json, &p->density);
    vs_report_rooms_json(json, scene, p->room_extinction_per_m);
    vs_json_number(json, "grey_nits", p->grey_nits);
    vs_json_bands(json, "veil_tint", p->veil_tint);
    vs_json_open_array(json, "points");
    for (size_t i = 0; i < p->shot->point_count; i++) {
        point(json, scene, p->shot, &p->shot->point[i], &p->point[i]);
    }
    vs_json_close_array(json);
    contrasts(json, p);
    beams(json, scene, p);
    separations(json, p);
    glows(json, scene, p);
    wants(json, scene, answer);
    vs_json_open_array(json, "notices");
    for (size_t i = 0; vs_report_predict_notice(&notice, &metres, scene, p, i); i++) {
        vs_json_string(json, NULL, vs_text_words(&notice, json->out));
        vs_text_free(&notice);
    }
    (void)vs_text_words(&notice, json->out); /* the last may have run out of memory */
    vs_text_free(&notice);
    vs_json_close_array(json);
    vs_json_close_object(json);
}
