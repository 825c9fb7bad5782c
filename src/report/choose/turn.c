/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A lamp carried round its aim: every other place in the table, all of them in the JSON. */
#include <math.h>

#include "report/choose/turn.h"
#include "veilstop/report/predict.h"

#define TEXT_EVERY 2 /* places per line of the table: 20 degrees */

static const char *room_name(const vs_scene *scene, size_t room) {
    return room == VS_OUTSIDE ? "outside" : scene->room[room].name;
}

/* Front, side or back light, by the angle from the camera. */
static const char *side_word(double from_camera_rad) {
    double deg = from_camera_rad / VS_RAD_PER_DEG;
    return deg < 45    ? "front"
           : deg < 75  ? "three-quarter"
           : deg < 105 ? "side"
           : deg < 135 ? "three-quarter back"
                       : "back";
}

static void place_line(vs_text *out, const vs_style *style, const vs_scene *scene,
                       const vs_turn *turn, size_t i) {
    const vs_turn_place *place = &turn->place[i];
    vs_text_addf(out, "  ");
    vs_style_figure(out, 7, "%.0f", place->turned_rad / VS_RAD_PER_DEG);
    vs_style_figure(out, 6, "%.0f", place->from_camera_rad / VS_RAD_PER_DEG);
    vs_text_addf(out, " ");
    vs_style_cell(out, side_word(place->from_camera_rad), 18, false);
    if (!place->stands) {
        vs_text_addf(out, "   no place to stand");
    } else {
        vs_style_figure(out, 7, "%.2f", place->over_stops);
        vs_text_addf(out, " ");
        vs_style_cell(out, vs_report_beam_word(place->reads), 8, false);
        vs_style_figure(out, 8, "%+.1f %%", place->lift_percent);
        vs_style_figure(out, 7, "%.2f", place->cost_stops);
        vs_text_addf(out, " ");
        vs_style_cell(out, place->meets_wants ? "met" : "NOT met", 7, false);
        vs_style_cell(out, room_name(scene, place->room), 12, false);
    }
    if (i == turn->best || i == turn->worst) {
        vs_style_words(out, style, i == turn->best ? VS_INK_GOOD : VS_INK_BAD,
                       i == turn->best ? "best" : "worst");
    }
    vs_style_end_line(out);
}

void vs_report_turn_text(vs_text *out, const vs_style *style, const vs_scene *scene,
                         const vs_turn *turn) {
    const vs_scene_shot *shot = &scene->shot[turn->shot];
    vs_style_ink(out, style, VS_INK_HEAD);
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words, "%s carried round its aim, in %s", scene->light[turn->light].name,
                 shot->name);
    vs_style_wrap(out, vs_text_words(&words, out), 2);
    vs_text_free(&words);
    vs_style_ink(out, style, VS_INK_FAINT);
    vs_text_addf(out, "  ");
    vs_style_cell(out, "turned", 7, true);
    vs_style_cell(out, "camera", 6, true);
    vs_text_addf(out, " ");
    vs_style_cell(out, "light from", 18, false);
    vs_style_cell(out, "beam", 7, true);
    vs_text_addf(out, " ");
    vs_style_cell(out, "reads", 8, false);
    vs_style_cell(out, "lifts", 8, true);
    vs_style_cell(out, "costs", 7, true);
    vs_text_addf(out, " ");
    vs_style_cell(out, "wants", 7, false);
    vs_text_addf(out, "stands in");
    vs_style_end_line(out);
    vs_style_ink(out, style, VS_INK_PLAIN);
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        if (i % TEXT_EVERY == 0 || i == turn->best || i == turn->worst) {
            place_line(out, style, scene, turn, i);
        }
    }
    if (turn->best == VS_NONE) {
        vs_text_addf(&words,
                     "No place round its aim meets all that the shot wants: none is best. ");
    }
    vs_text_addf(&words, "Degrees from where it stands, anticlockwise from above, and from the "
                         "camera; the beam in stops over what is behind it; its veil as lift of "
                         "a black and in stops on the point that it costs most.");
    vs_text_addf(out, "  ");
    vs_style_wrap(out, vs_text_words(&words, out), 2);
    vs_text_free(&words);
}

static void place_json(vs_json *json, const vs_scene *scene, const vs_turn *turn, size_t i) {
    const vs_turn_place *p = &turn->place[i];
    const vs_scene_shot *shot = &scene->shot[turn->shot];
    vs_json_open_object(json, NULL);
    vs_json_number(json, "turned_deg", p->turned_rad / VS_RAD_PER_DEG);
    vs_json_vec3(json, "at", p->at_m);
    vs_json_string(json, "room", room_name(scene, p->room));
    vs_json_bool(json, "stands", p->stands);
    vs_json_number(json, "from_camera_deg", p->from_camera_rad / VS_RAD_PER_DEG);
    if (p->stands) {
        vs_json_number(json, "over_background_stops", p->over_stops);
        vs_json_string(json, "reads", vs_report_reads_word(p->reads));
        vs_json_string(json, "point", p->point == VS_NONE ? NULL : shot->point[p->point].name);
        vs_json_number(json, "veil_nits", p->veil_nits);
        vs_json_number(json, "lift_percent", p->lift_percent);
        vs_json_number(json, "cost_stops", p->cost_stops);
        vs_json_number(json, "net_stops", p->net_stops);
        vs_json_bool(json, "meets_wants", p->meets_wants);
    }
    vs_json_close_object(json);
}

/* NaN if there is no such place. */
static double turned_deg(const vs_turn *turn, size_t place) {
    return place == VS_NONE ? (double)NAN : turn->place[place].turned_rad / VS_RAD_PER_DEG;
}

void vs_report_turn_json(vs_json *json, const vs_scene *scene, const vs_turn *turn) {
    vs_json_open_object(json, NULL);
    vs_json_string(json, "shot", scene->shot[turn->shot].name);
    vs_json_string(json, "light", scene->light[turn->light].name);
    vs_json_number_or_null(json, "best_deg", turned_deg(turn, turn->best));
    vs_json_number_or_null(json, "worst_deg", turned_deg(turn, turn->worst));
    vs_json_open_array(json, "places");
    for (size_t i = 0; i < VS_TURN_PLACES; i++) {
        place_json(json, scene, turn, i);
    }
    vs_json_close_array(json);
    vs_json_close_object(json);
}
