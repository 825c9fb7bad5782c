/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The densities that meet one shot's wants, and the one to take. */
#include <math.h>
#include <stdlib.h>

#include "shot/choose/choose_advice.h"
#include "shot/choose/choose_mend.h"
#include "shot/choose/choose_shot.h"
#include "shot/choose/choose_work.h"
#include "veilstop/shot/held.h"

#define MODEL_WITHIN 1e-3 /* [1] allowed error of the model's margins between its nodes */

static void hold_all(const vs_shot_choice *choice, const vs_shot_prediction *prediction,
                     const bool *asked, double *margin) {
    for (size_t i = 0; i < choice->shot->want_count; i++) {
        if (!asked || asked[i]) {
            margin[i] = vs_shot_choice_hold(choice, i, prediction).margin;
        }
    }
}

static vs_status true_margins(void *context, double extinction_per_m, const bool *asked,
                              double *margin) {
    const vs_shot_choice *choice = context;
    vs_shot_prediction prediction;
    vs_status status = vs_shot_choice_predict(choice, extinction_per_m, asked, &prediction);
    if (status == VS_OK) {
        hold_all(choice, &prediction, asked, margin);
        vs_shot_prediction_free(&prediction);
    }
    return status;
}

static vs_status model_margins(void *context, double extinction_per_m, const bool *asked,
                               double *margin) {
    vs_shot_choice *choice = context;
    hold_all(choice,
             vs_density_model_at(&choice->model, &choice->predictor->haze, extinction_per_m), asked,
             margin);
    return VS_OK;
}

static vs_status predict_node(void *context, double extinction_per_m, vs_shot_prediction *out) {
    return vs_shot_choice_predict(context, extinction_per_m, NULL, out);
}

/* The longest path through haze: to a point, otherwise to a beam's place, otherwise across the
 * camera's room. */
static double longest_sight_m(const vs_predictor *predictor, const vs_scene_shot *shot) {
    double longest = 0, beam = 0;
    vs_vec3 at_m = predictor->scene->camera[shot->camera].at_m;
    for (size_t i = 0; i < shot->point_count; i++) {
        longest = fmax(longest, vs_vec3_length(vs_vec3_sub(shot->point[i].at_m, at_m)));
    }
    for (size_t i = 0; i < shot->want_count; i++) {
        if (vs_want_traits_of(shot->want[i].kind)->subject == VS_WANT_OF_BEAM) {
            beam = fmax(beam, vs_vec3_length(vs_vec3_sub(shot->want[i].near_m, at_m)));
        }
    }
    if (longest > 0 || beam > 0) {
        return longest > 0 ? longest : beam;
    }
    const vs_scene *scene = predictor->scene;
    size_t room = vs_choose_camera_room(predictor, shot);
    return vs_vec3_length(scene->room[room == VS_SPACE_OUTSIDE ? 0 : room].size_m);
}

double vs_choose_search_end_per_m(const vs_predictor *predictor, const vs_scene_shot *shot) {
    return VS_CHOOSE_DEPTH_MAX / longest_sight_m(predictor, shot);
}

static void shot_choice_free(vs_shot_choice *choice) {
    for (size_t i = 0; choice->reach && i < choice->shot->want_count; i++) {
        vs_intervals_free(&choice->reach[i]);
    }
    free(choice->reach);
    free(choice->room_extinction_per_m);
    free(choice->direct);
    free(choice->planned->note);
    free(choice->planned->direct);
    vs_margin_scan_free(&choice->scan);
    vs_density_model_free(&choice->model);
}

/* Whether the model's margins are right between its nodes, tested midway between two nodes near a
 * fifth and two thirds of the range. */
static vs_status model_is_close(vs_shot_choice *choice, double *margin, bool *close) {
    size_t wants = choice->shot->want_count, last = choice->model.count - 1;
    const size_t node[] = {last / 4, last * 5 / 8};
    vs_status status = VS_OK;
    *close = true;
    for (size_t i = 0; i < 2 && *close && status == VS_OK; i++) {
        double k = (choice->model.k[node[i]] + choice->model.k[node[i] + 1]) / 2;
        status = true_margins(choice, k, NULL, margin);
        if (status == VS_OK) {
            status = model_margins(choice, k, NULL, margin + wants);
        }
        for (size_t w = 0; w < wants && status == VS_OK; w++) {
            double off = fabs(margin[w] - margin[wants + w]);
            *close = *close && off <= MODEL_WITHIN * (1 + fabs(margin[w]));
        }
    }
    return status;
}

static vs_status make_model(vs_shot_choice *choice, double end_per_m) {
    double *margin = calloc(2 * choice->shot->want_count + 1, sizeof *margin);
    vs_status status = margin ? VS_OK : VS_ERR_MEMORY;
    choice->model.scene = choice->predictor->scene;
    choice->model.shot = choice->index;
    choice->model.end_per_m = end_per_m;
    for (bool close = false; !close && status == VS_OK;) {
        status = vs_density_model_refine(&choice->model, predict_node, choice);
        if (choice->model.count == VS_MODEL_NODES_MAX) {
            break; /* crossings are solved with predictions, whatever the model says */
        }
        if (status == VS_OK && choice->nodes_before > 0) {
            close = choice->model.count >= choice->nodes_before;
        } else if (status == VS_OK) {
            status = model_is_close(choice, margin, &close);
        }
    }
    free(margin);
    return status;
}

/* Scans the shot's wants over density and finds the densities that meet each. */
static vs_status shot_choice_init(vs_shot_choice *choice, double end_per_m) {
    double place[VS_CHOOSE_PLACES];
    size_t wants = choice->shot->want_count;
    const vs_margins truth = {wants, true_margins, choice};
    const vs_margins by_model = {wants, model_margins, choice};
    choice->truth = truth;
    choice->margins = by_model;
    choice->reach = calloc(wants + 1, sizeof *choice->reach);
    choice->room_extinction_per_m =
        calloc(choice->predictor->scene->room_count + 1, sizeof(double));
    size_t lights = choice->light ? choice->light->direct.places * choice->light->direct.lights : 0;
    choice->direct = calloc(lights + 1, sizeof *choice->direct);
    if (!choice->reach || !choice->room_extinction_per_m || !choice->direct) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < VS_CHOOSE_PLACES; i++) {
        double part = (double)i / (VS_CHOOSE_PLACES - 1);
        place[i] = end_per_m * part * part * part;
    }
    vs_status status = make_model(choice, end_per_m);
    if (status == VS_OK) {
        status = vs_margin_scan_init(&choice->scan, &choice->margins, place, VS_CHOOSE_PLACES);
    }
    for (size_t i = 0; i < wants && status == VS_OK; i++) {
        status = vs_margin_feasible(&choice->margins, &choice->scan, i, &choice->reach[i]);
    }
    return status;
}

/* The densities that meet all wants that any density meets. */
static vs_status meet_all(const vs_shot_choice *choice, double end_per_m, vs_intervals *out) {
    vs_intervals so_far = {0};
    out->count = 0;
    vs_status status = vs_intervals_add(out, 0, end_per_m);
    for (size_t i = 0; i < choice->shot->want_count && status == VS_OK; i++) {
        if (choice->reach[i].count == 0) {
            continue;
        }
        vs_intervals swap = so_far;
        so_far = *out;
        *out = swap;
        status = vs_intervals_meet(&so_far, &choice->reach[i], out);
    }
    vs_intervals_free(&so_far);
    return status;
}

/* Whether an end of a want's densities coincides with an end of the shot's. */
static bool sets_an_end(const vs_intervals *reach, const vs_intervals *meets) {
    for (size_t i = 0; i < reach->count && meets->count > 0; i++) {
        if (reach->item[i].low == meets->item[0].low ||
            reach->item[i].high == meets->item[meets->count - 1].high) {
            return true;
        }
    }
    return false;
}

/* Solves crossings with predictions: all, or only those that set the ends of the shot's
 * densities. */
static vs_status polish(vs_shot_choice *choice, vs_choose_depth depth, vs_choice *out) {
    vs_status status = VS_OK;
    for (size_t i = 0; i < choice->shot->want_count && status == VS_OK; i++) {
        if (depth == VS_CHOOSE_ADVICE || sets_an_end(&choice->reach[i], &out->meets)) {
            status = vs_margin_polish(&choice->truth, &choice->margins, i, 0, out->search_end_per_m,
                                      &choice->reach[i]);
        }
    }
    return status == VS_OK ? meet_all(choice, out->search_end_per_m, &out->meets) : status;
}

/* The densities each want alone allows, and which wants set the ends. */
static void set_limits(const vs_shot_choice *choice, vs_choice *out) {
    for (size_t i = 0; i < out->want_count; i++) {
        const vs_intervals *reach = &choice->reach[i];
        vs_choice_want *want = &out->want[i];
        want->at_least_per_m = want->at_most_per_m = NAN;
        if (!want->possible) {
            continue;
        }
        double low = reach->item[0].low, high = reach->item[reach->count - 1].high;
        want->at_least_per_m = low > 0 ? low : (double)NAN;
        want->at_most_per_m = high < out->search_end_per_m ? high : (double)NAN;
        want->binds_lowest = out->agree && want->at_least_per_m == out->lowest_per_m;
        want->binds_highest = out->agree && want->at_most_per_m == out->highest_per_m;
    }
}

/* Whether all deciding wants are of a kind; false if none decides. */
static bool all_wants(const vs_shot_choice *choice, bool (*are)(vs_want_kind)) {
    const vs_scene_shot *shot = choice->shot;
    bool any = false;
    for (size_t i = 0; i < shot->want_count; i++) {
        if (choice->reach[i].count == 0) {
            continue;
        }
        any = true;
        vs_want_kind kind = shot->want[i].kind;
        if (!are(kind) || vs_want_traits_of(kind)->effect == VS_WANT_DOES_BOTH) {
            return false;
        }
    }
    return any;
}

/* The deciding wants: those that some density meets, or all if there are none. */
static bool mark_deciding(const vs_shot_choice *choice, bool *decides) {
    bool any = false;
    for (size_t i = 0; i < choice->shot->want_count; i++) {
        decides[i] = choice->reach[i].count > 0;
        any = any || decides[i];
    }
    for (size_t i = 0; i < choice->shot->want_count && !any; i++) {
        decides[i] = true;
    }
    return any;
}

/* The best density not below the least haze, among those that meet all wants if there are any.
 */
static vs_status best_haze(const vs_shot_choice *choice, const bool *decides, vs_choice *out) {
    vs_intervals thick = {0}, both = {0};
    double end_per_m = out->search_end_per_m;
    out->recommended_per_m = out->least_per_m;
    if (!(out->least_per_m < end_per_m)) {
        out->too_thin = out->agree;
        return VS_OK;
    }
    vs_status status = vs_intervals_add(&thick, out->least_per_m, end_per_m);
    if (status == VS_OK) {
        status = vs_intervals_meet(&thick, &out->meets, &both);
    }
    out->too_thin = out->agree && both.count == 0;
    if (status == VS_OK && !out->too_thin) {
        status = vs_margin_best(&choice->margins, &choice->scan, decides,
                                both.count > 0 ? &both : &thick, &out->recommended_per_m);
    }
    vs_intervals_free(&thick);
    vs_intervals_free(&both);
    return status;
}

/* By the rules, without regard to the least haze. */
static vs_status recommend_any(const vs_shot_choice *choice, const bool *decides, vs_choice *out) {
    double rule = NAN;
    if (out->agree && all_wants(choice, vs_want_holds_back)) {
        /* the end of the search is no limit: nothing here asks for haze, nor says how much */
        bool limited = out->highest_per_m < out->search_end_per_m;
        rule = limited ? VS_CHOOSE_OF_HIGHEST * out->highest_per_m : 0;
    } else if (out->agree && all_wants(choice, vs_want_asks)) {
        rule = VS_CHOOSE_OF_LOWEST * out->lowest_per_m;
    }
    if (vs_intervals_hold(&out->meets, rule)) {
        out->recommended_per_m = rule;
        return VS_OK;
    }
    return vs_margin_best(&choice->margins, &choice->scan, decides, out->agree ? &out->meets : NULL,
                          &out->recommended_per_m);
}

static vs_status recommend(const vs_shot_choice *choice, vs_choice *out) {
    bool *decides = calloc(choice->shot->want_count + 1, sizeof *decides);
    if (!decides) {
        return VS_ERR_MEMORY;
    }
    bool any = mark_deciding(choice, decides);
    vs_status status = recommend_any(choice, decides, out);
    if (status == VS_OK && !(out->recommended_per_m >= out->least_per_m)) {
        out->none_needed = any && vs_intervals_hold(&out->meets, 0);
        out->recommended_per_m = 0;
        status = out->none_needed ? VS_OK : best_haze(choice, decides, out);
    }
    free(decides);
    return status;
}

static bool every_want_possible(const vs_choice *out) {
    for (size_t i = 0; i < out->want_count; i++) {
        if (!out->want[i].possible) {
            return false;
        }
    }
    return true;
}

/* Evaluates the wants, by prediction, at the planned and at the recommended density. */
static vs_status hold_both(vs_shot_choice *choice, const vs_shot_prediction *planned,
                           vs_choice *out) {
    bool same = out->planned_per_m == out->recommended_per_m;
    bool beyond = !same && out->recommended_per_m > out->search_end_per_m;
    vs_shot_prediction there = {0};
    if (beyond) { /* the least haze lies beyond the search and so beyond the model */
        vs_status status = vs_shot_choice_predict(choice, out->recommended_per_m, NULL, &there);
        if (status != VS_OK) {
            return status;
        }
    }
    const vs_shot_prediction *recommended =
        same ? planned
        : beyond
            ? &there
            : vs_density_model_at(&choice->model, &choice->predictor->haze, out->recommended_per_m);
    /* At the end of the densities that meet a want, rounding may make it look missed. */
    bool inside = vs_intervals_hold(&out->meets, out->planned_per_m), all = true;
    for (size_t i = 0; i < out->want_count; i++) {
        out->want[i].planned = vs_shot_choice_hold(choice, i, planned);
        out->want[i].recommended = vs_shot_choice_hold(choice, i, recommended);
        all = all && out->want[i].planned.met;
    }
    out->planned_met = all || (inside && every_want_possible(out));
    for (size_t i = 0; i < out->want_count && out->none_needed; i++) {
        double least_per_m = fmin(out->least_per_m, out->search_end_per_m);
        const vs_shot_prediction *least =
            vs_density_model_at(&choice->model, &choice->predictor->haze, least_per_m);
        out->want[i].least = vs_shot_choice_hold(choice, i, least);
    }
    vs_shot_prediction_free(&there);
    return VS_OK;
}

static vs_status advise(vs_shot_choice *choice, vs_choice *out) {
    vs_shot_prediction planned;
    vs_status status = vs_shot_choice_predict_planned(choice, out->planned_per_m, &planned);
    if (status != VS_OK) {
        return status;
    }
    set_limits(choice, out);
    status = hold_both(choice, &planned, out);
    if (status == VS_OK) {
        status = vs_choice_explain_unreached(choice, out);
    }
    if (status == VS_OK && !out->agree) {
        status = vs_choice_find_conflict(choice, out);
    }
    if (status == VS_OK) {
        status = vs_choice_work_out_likes(choice, out);
    }
    if (status == VS_OK && !out->planned_met) {
        status = vs_choice_find_mend(choice, &planned, out);
    }
    vs_shot_prediction_free(&planned);
    return status;
}

static size_t count_likes(const vs_shot_choice *choice) {
    size_t count = 0;
    for (size_t i = 0; i < choice->shot->want_count; i++) {
        count += vs_shot_choice_is_like(choice, i);
    }
    return count;
}

static vs_status choose_from_wants(vs_shot_choice *choice, vs_choose_depth depth, vs_choice *out) {
    out->want = calloc(choice->shot->want_count + 1, sizeof *out->want);
    out->like_count = count_likes(choice);
    out->like = calloc(out->like_count + 1, sizeof *out->like);
    if (!out->want || !out->like) {
        return VS_ERR_MEMORY;
    }
    out->want_count = choice->shot->want_count;
    vs_status status = shot_choice_init(choice, out->search_end_per_m);
    if (status == VS_OK) {
        status = meet_all(choice, out->search_end_per_m, &out->meets);
    }
    if (status == VS_OK && choice->nodes_before == 0) {
        status = polish(choice, depth, out);
    }
    if (status != VS_OK) {
        return status;
    }
    out->nodes = choice->model.count;
    bool any = false;
    for (size_t i = 0; i < out->want_count; i++) {
        out->want[i].possible = choice->reach[i].count > 0;
        any = any || out->want[i].possible;
    }
    out->meets.count = any ? out->meets.count : 0; /* without wants nothing is met */
    out->agree = out->meets.count > 0;
    if (out->agree) {
        out->lowest_per_m = out->meets.item[0].low;
        out->highest_per_m = out->meets.item[out->meets.count - 1].high;
    }
    status = recommend(choice, out);
    out->met = out->agree && !out->too_thin && every_want_possible(out);
    if (status == VS_OK) {
        out->planned_per_m = isnan(out->given_per_m) ? out->recommended_per_m : out->given_per_m;
    }
    return status == VS_OK && depth == VS_CHOOSE_ADVICE ? advise(choice, out) : status;
}

vs_status vs_choose_shot(vs_predictor *predictor, size_t shot, vs_choose_depth depth,
                         size_t nodes_before, vs_indirect_curve *light,
                         const vs_shot_prediction *other, vs_choice *out) {
    const vs_scene_shot *s = &predictor->scene->shot[shot];
    vs_indirect_notes planned = {.known = false};
    vs_shot_choice choice = {.predictor = predictor,
                             .index = shot,
                             .shot = s,
                             .camera = &predictor->scene->camera[s->camera],
                             .other = other,
                             .light = light,
                             .nodes_before = nodes_before,
                             .planned_per_m = NAN,
                             .planned = &planned};
    vs_status status = vs_held_most_g_per_m3(predictor->scene, s, &out->most_per_m);
    out->most_per_m *= predictor->haze.extinction_m2_per_g.v[VS_BAND_GREEN];
    if (status != VS_OK) {
        return status;
    }
    if (s->want_count == 0) {
        out->recommended_per_m = out->planned_per_m = out->given_per_m;
        out->met = out->planned_met = true;
        return isnan(out->given_per_m) ? VS_ERR_INPUT : VS_OK;
    }
    out->search_end_per_m = vs_choose_search_end_per_m(predictor, s);
    status = vs_held_least(predictor->scene, s, &predictor->haze, &out->least_per_m);
    if (status == VS_OK) {
        status = choose_from_wants(&choice, depth, out);
    }
    shot_choice_free(&choice);
    return status;
}
