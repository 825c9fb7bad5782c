/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop predict: what haze does to each shot. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ask/context.h"
#include "ask/day_plan.h"
#include "ask/densities.h"
#include "veilstop/report/json.h"
#include "veilstop/report/predict.h"
#include "veilstop/shot/held.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/scene_emitters.h"
#include "veilstop/shot/want.h"

/* Predictions of all shots requested and of those they must look like; others have NULL points. */
typedef struct {
    const vs_ask_scene *scene;
    bool as_json;
    vs_predictor *predictor; /* one per worker; all but the first share its data */
    size_t workers;
    vs_shot_prediction *shot; /* one per shot of the scene */
    size_t *asked;            /* the shots to be predicted */
    size_t asked_count;
    size_t *group; /* of asked: the first of those that one worker predicts, in shared light */
    double *asked_per_m;                       /* asked x room: densities */
    vs_status *status;                         /* one a shot of the scene */
    vs_status part_status[VS_PREDICTOR_PARTS]; /* of the first predictor */
    bool *selected;                            /* one a shot of the scene */
    vs_ask_densities densities;                /* in place of the shots' own, if given */
    double extinction_per_m; /* the current one, in the camera's room; NaN: each shot's own */
    double *thickest_per_m;  /* one per room: the thickest in any shot shown */
    vs_caution_optics optics;
    vs_status optics_status;
} prediction_set;

/* The answer being written, as text or JSON. */
typedef struct {
    vs_text text;
    vs_json json;
} answer;

static vs_exit fail_shot(const vs_ask_scene *scene, size_t shot, vs_status status) {
    const char *name = scene->scene->shot[shot].name;
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT;
    return vs_ask_fail(code, "%s:/shots/%zu: %s: %s", scene->path, shot, name,
                       vs_status_text(status));
}

static void ask(prediction_set *set, size_t shot) {
    for (size_t i = 0; i < set->asked_count; i++) {
        if (set->asked[i] == shot) {
            return;
        }
    }
    set->asked[set->asked_count++] = shot;
}

/* Marks a shot and those it must look like. */
static void ask_with_likes(prediction_set *set, size_t shot) {
    const vs_scene_shot *s = &set->scene->scene->shot[shot];
    ask(set, shot);
    for (size_t i = 0; i < s->want_count; i++) {
        if (s->want[i].kind == VS_WANT_LIKE) {
            ask(set, s->want[i].shot);
        }
    }
}

static void forget_shots(prediction_set *set) {
    for (size_t i = 0; set->shot && i < set->scene->scene->shot_count; i++) {
        vs_shot_prediction_free(&set->shot[i]);
    }
}

static void set_free(prediction_set *set) {
    forget_shots(set);
    for (size_t i = set->workers; set->predictor && i-- > 0;) {
        vs_ask_predictor_free(&set->predictor[i], set->scene);
    }
    free(set->predictor);
    free(set->shot);
    free(set->asked);
    free(set->group);
    free(set->asked_per_m);
    free(set->selected);
    free(set->status);
    free(set->thickest_per_m);
}

/* The parts of the first predictor, and what the cautions need. */
static void make_part(void *context, size_t worker, size_t part) {
    prediction_set *set = context;
    (void)worker;
    if (part < VS_PREDICTOR_PARTS) {
        set->part_status[part] = vs_predictor_make_part(&set->predictor[0], part);
    } else {
        set->optics_status = vs_ask_scene_optics(set->scene, &set->optics);
    }
}

static void make_optics(void *context, size_t worker, size_t i) {
    (void)i;
    make_part(context, worker, VS_PREDICTOR_PARTS);
}

static vs_status make_first_predictor(prediction_set *set) {
    if (set->scene->kept) { /* its parts exist already */
        vs_ask_each(1, NULL, make_optics, set);
        return vs_ask_predictor_init(&set->predictor[0], set->scene);
    }
    vs_status status = vs_predictor_begin(&set->predictor[0], set->scene->scene);
    if (status == VS_OK) {
        vs_ask_each(VS_PREDICTOR_PARTS + 1, NULL, make_part, set);
    }
    for (size_t part = 0; part < VS_PREDICTOR_PARTS && status == VS_OK; part++) {
        status = set->part_status[part];
    }
    return status == VS_OK ? vs_predictor_end(&set->predictor[0]) : status;
}

static vs_status make_predictors(prediction_set *set) {
    set->workers = vs_ask_workers(set->asked_count);
    set->predictor = calloc(set->workers + 1, sizeof *set->predictor);
    if (!set->predictor) {
        return VS_ERR_MEMORY;
    }
    vs_status status = make_first_predictor(set);
    if (status == VS_OK) {
        set->predictor[0].runner = vs_ask_runner();
        status = vs_predictor_trace(&set->predictor[0], set->asked, set->asked_count);
    }
    for (size_t i = 1; i < set->workers && status == VS_OK; i++) {
        status = vs_predictor_init_beside(&set->predictor[i], &set->predictor[0]);
    }
    return status;
}

static vs_exit set_init(prediction_set *set, const vs_ask_args *args, const vs_ask_scene *scene) {
    size_t count = scene->scene->shot_count;
    set->selected = calloc(count + 1, sizeof *set->selected);
    set->shot = calloc(count + 1, sizeof *set->shot);
    set->asked = calloc(count + 1, sizeof *set->asked);
    set->group = calloc(count + 1, sizeof *set->group);
    set->asked_per_m = calloc(count * scene->scene->room_count + 1, sizeof *set->asked_per_m);
    set->status = calloc(count + 1, sizeof *set->status);
    set->thickest_per_m = calloc(scene->scene->room_count, sizeof *set->thickest_per_m);
    if (!set->selected || !set->shot || !set->asked || !set->group || !set->asked_per_m ||
        !set->status || !set->thickest_per_m) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "predict");
    }
    vs_exit code = vs_ask_scene_selected(args, scene, set->selected);
    return code == VS_EXIT_DONE ? vs_ask_densities_read(args, scene->style.units, &set->densities)
                                : code;
}

/* The only shot shown; VS_NONE if there are more. */
static size_t only_one(const prediction_set *set) {
    size_t only = VS_NONE, count = 0;
    for (size_t i = 0; i < set->scene->scene->shot_count; i++) {
        only = set->selected[i] ? i : only;
        count += set->selected[i];
    }
    return count == 1 ? only : VS_NONE;
}

/* Chooses open densities unless densities are given; then prepares everything. */
static vs_exit prepare(prediction_set *set, const vs_ask_args *args, vs_ask_scene *scene) {
    vs_exit code = VS_EXIT_DONE;
    if (set->densities.count == 0) {
        code = vs_ask_scene_fill_densities(scene, args->shot_count > 0 ? only_one(set) : VS_NONE);
    }
    for (size_t i = 0; i < scene->scene->shot_count && code == VS_EXIT_DONE; i++) {
        if (set->selected[i]) {
            ask_with_likes(set, i);
        }
    }
    if (code == VS_EXIT_DONE) {
        vs_status status = make_predictors(set);
        code = status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, scene->path);
    }
    return code;
}

/* Makes one of the densities given the current one, and says which if there are several. */
static void take_density(prediction_set *set, answer *a, size_t which) {
    const vs_ask_density *density = &set->densities.item[which];
    double k = vs_ask_density_per_m(density, &set->predictor[0].haze);
    set->extinction_per_m = k;
    if (!set->as_json && (density->word || set->densities.count > 1)) {
        vs_text_addf(&a->text, "\nhaze %s%s%.3g /m where the camera is\n",
                     density->word ? density->word : "", density->word ? ": " : "of ", k);
    }
}

static double *per_m_of(const prediction_set *set, size_t asked) {
    return set->asked_per_m + asked * set->scene->scene->room_count;
}

static bool has_all_lights_of(const vs_scene *scene, const vs_scene_shot *all,
                              const vs_scene_shot *some) {
    for (size_t i = 0; i < scene->light_count; i++) {
        if (vs_shot_uses_light(some, i) && !vs_shot_uses_light(all, i)) {
            return false;
        }
    }
    return true;
}

/* Whether what is solved for one of two shots is all that the other needs. */
static bool share_light(const prediction_set *set, size_t a, size_t b) {
    const vs_scene *scene = set->scene->scene;
    const vs_scene_shot *one = &scene->shot[set->asked[a]], *other = &scene->shot[set->asked[b]];
    return vs_predictor_place_of(&set->predictor[0], one) ==
               vs_predictor_place_of(&set->predictor[0], other) &&
           memcmp(per_m_of(set, a), per_m_of(set, b), scene->room_count * sizeof(double)) == 0 &&
           (has_all_lights_of(scene, one, other) || has_all_lights_of(scene, other, one));
}

/* Finds densities, and which shots share their light. */
static void find_groups(prediction_set *set) {
    const vs_scene *scene = set->scene->scene;
    for (size_t i = 0; i < set->asked_count; i++) {
        size_t shot = set->asked[i];
        set->status[shot] = vs_held_rooms(scene, &scene->shot[shot], &set->predictor[0].haze,
                                          set->extinction_per_m, per_m_of(set, i));
        set->group[i] = i;
        for (size_t first = 0; first < i && set->group[i] == i; first++) {
            if (set->group[first] == first && share_light(set, first, i)) {
                set->group[i] = first;
            }
        }
    }
}

static void predict_group(void *context, size_t worker, size_t i) {
    prediction_set *set = context;
    for (size_t n = i; n < set->asked_count; n++) {
        size_t shot = set->asked[n];
        if (set->group[n] == i && set->status[shot] == VS_OK) {
            set->status[shot] =
                vs_predict_shot(&set->predictor[worker], shot, per_m_of(set, n), &set->shot[shot]);
        }
    }
}

static vs_exit predict_all(prediction_set *set) {
    find_groups(set);
    vs_ask_each(set->asked_count, "predicting", predict_group, set);
    for (size_t i = 0; i < set->asked_count; i++) {
        size_t shot = set->asked[i];
        if (set->status[shot] != VS_OK) {
            return fail_shot(set->scene, shot, set->status[shot]);
        }
    }
    return VS_EXIT_DONE;
}

/* Evaluates a shot's wants on the predictions; false if one is not met. */
static bool evaluate(const prediction_set *set, const vs_scene *scene, size_t shot,
                     vs_want_result *result) {
    const vs_scene_shot *s = &scene->shot[shot];
    bool all = true;
    for (size_t i = 0; i < s->want_count; i++) {
        const vs_shot_prediction *like =
            s->want[i].kind == VS_WANT_LIKE ? &set->shot[s->want[i].shot] : NULL;
        result[i] = vs_want_evaluate(&set->shot[shot], i, &scene->camera[s->camera], like);
        all = all && result[i].met;
    }
    return all;
}

static void begin(answer *a, const prediction_set *set) {
    vs_text_init(&a->text);
    vs_json_begin(&a->json, &a->text);
    if (set->as_json) {
        vs_ask_scene_head_json(&a->json, "predict", set->scene);
        vs_json_open_array(&a->json, "shots");
    } else {
        vs_ask_scene_head(&a->text, set->scene);
    }
}

static void note_densities(prediction_set *set, size_t room_count, size_t shot) {
    for (size_t room = 0; room < room_count; room++) {
        set->thickest_per_m[room] =
            fmax(set->thickest_per_m[room], set->shot[shot].room_extinction_per_m[room]);
    }
}

static vs_exit add_shot(answer *a, prediction_set *set, size_t shot, bool *met) {
    const vs_scene *scene = set->scene->scene;
    vs_want_result *result = calloc(scene->shot[shot].want_count + 1, sizeof *result);
    if (!result) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "predict");
    }
    vs_predict_answer shown = {&set->shot[shot], result};
    note_densities(set, scene->room_count, shot);
    *met = evaluate(set, scene, shot, result) && *met;
    if (set->as_json) {
        vs_report_predict_json(&a->json, scene, &shown);
    } else {
        vs_text_addf(&a->text, "\n");
        vs_report_predict_text(&a->text, &set->scene->style, scene, &shown);
    }
    free(result);
    return VS_EXIT_DONE;
}

/* The peaks of the day, or of this answer alone if densities are given. */
static vs_status find_peaks(const prediction_set *set, vs_ask_peaks *peaks) {
    const vs_scene *scene = set->scene->scene;
    *peaks = vs_ask_shown_peaks(scene, set->thickest_per_m);
    return isnan(set->extinction_per_m)
               ? vs_ask_day_peaks(scene, &set->predictor[0].haze, NULL, set->thickest_per_m, peaks)
               : VS_OK;
}

static vs_exit finish(answer *a, const prediction_set *set, vs_exit code, bool met) {
    const vs_caution_optics *optics = set->optics_status == VS_OK ? &set->optics : NULL;
    vs_ask_peaks day;
    vs_status status = find_peaks(set, &day);
    vs_cautions_peaks peaks = vs_ask_peaks_of(&day);
    if (status != VS_OK && code == VS_EXIT_DONE) {
        code = vs_ask_fail_status(status, set->scene->path);
    }
    if (code == VS_EXIT_DONE) {
        code = met ? VS_EXIT_DONE : VS_EXIT_UNMET;
        if (set->as_json) {
            vs_json_close_array(&a->json);
            if (optics) {
                vs_report_alarms_json(&a->json, set->scene->scene, &set->scene->safety.tables,
                                      optics, &peaks);
            }
            vs_json_close_object(&a->json);
            vs_text_addf(&a->text, "\n");
        } else {
            code = vs_ask_scene_cautions_of(&a->text, set->scene, &set->optics, set->optics_status,
                                            &peaks, code);
        }
        code = vs_ask_print_answer(&a->text, &a->json, code);
    }
    vs_text_free(&a->text);
    return code;
}

/* Each shot at the current density. */
static vs_exit add_shots(answer *a, prediction_set *set, bool *met) {
    vs_exit code = predict_all(set);
    for (size_t i = 0; i < set->scene->scene->shot_count && code == VS_EXIT_DONE; i++) {
        code = set->selected[i] ? add_shot(a, set, i, met) : code;
    }
    forget_shots(set);
    return code;
}

static vs_exit tell(prediction_set *set) {
    answer a;
    bool met = true;
    vs_exit code = VS_EXIT_DONE;
    begin(&a, set);
    if (set->densities.count == 0) {
        code = add_shots(&a, set, &met);
    }
    for (size_t d = 0; d < set->densities.count && code == VS_EXIT_DONE; d++) {
        take_density(set, &a, d);
        code = add_shots(&a, set, &met);
    }
    return finish(&a, set, code, met);
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    prediction_set set = {
        .scene = &scene, .as_json = vs_ask_flag(args, "json"), .extinction_per_m = NAN};
    vs_exit code = vs_ask_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    code = set_init(&set, args, &scene);
    if (code == VS_EXIT_DONE) {
        code = prepare(&set, args, &scene);
    }
    if (code == VS_EXIT_DONE) {
        code = tell(&set);
    }
    set_free(&set);
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_predict = {
    .name = "predict",
    .operands = "SCENE.json",
    .summary = "what haze does to each shot: contrast, blacks, veil, beams, glow",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHOT, VS_ASK_DENSITY_OPTIONS, VS_ASK_JSON, VS_ASK_UNITS, VS_ASK_DATA},
    .example = {"predict data/demo/cellar.json",
                "predict data/demo/cellar.json --haze thin,medium --json"},
    .many_shots = true,
    .run = run,
};
