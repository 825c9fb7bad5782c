/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop grade: the grade that takes the haze off a point's depth. */
#include "veilstop/report/grade.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "ask/day_plan.h"
#include "ask/grade/grade_files.h"
#include "ask/grade/grade_table.h"
#include "ask/scene_args.h"

typedef struct {
    vs_ask_scene scene;
    size_t shot; /* index */
    vs_predictor predictor;
    vs_shot_prediction prediction;
    double recover;
    vs_shot_grade_share best; /* with --best */
    vs_shot_grade grade;
    vs_clf_promise promise;
} question;

static const vs_scene_shot *shot_of(const question *q) {
    return &q->scene.scene->shot[q->shot];
}

/* The share to recover; NaN for the best. */
static vs_exit read_recover(const vs_ask_args *args, question *q) {
    q->recover = 1;
    if (!vs_ask_flag(args, "best")) {
        return vs_ask_number(args, "recover", 0, 1, &q->recover) ? VS_EXIT_DONE : VS_EXIT_USAGE;
    }
    q->recover = NAN;
    return vs_ask_value(args, "recover")
               ? vs_ask_fail(VS_EXIT_USAGE, "--best: finds what --recover would say; leave one out")
               : VS_EXIT_DONE;
}

/* The option given that needs one shot with points; NULL: none. */
static const char *needs_shot(const vs_ask_args *args) {
    static const char *const option[] = {"at", "cdl", "clf"};
    for (size_t i = 0; i < sizeof option / sizeof option[0]; i++) {
        if (vs_ask_value(args, option[i])) {
            return option[i];
        }
    }
    return NULL;
}

/* Whether the answer is a table: of all shots, or of one without points to grade for. */
static bool is_table(const vs_ask_args *args, const vs_scene *scene, size_t first, size_t end) {
    return end - first != 1 || (scene->shot[first].point_count == 0 && !needs_shot(args));
}

static vs_exit make_table(const vs_ask_args *args, question *q, size_t first, size_t end) {
    const char *option = needs_shot(args);
    return option ? vs_ask_fail(VS_EXIT_USAGE, "--%s: needs one shot: name it with --shot", option)
                  : vs_ask_grade_table(args, &q->scene, q->recover, first, end);
}

static vs_exit decide(const vs_ask_args *args, question *q) {
    (void)args;
    return vs_ask_scene_fill_densities(&q->scene, q->shot);
}

/* Predicts only the points: a grade needs no wants. */
static vs_exit predict(const vs_ask_args *args, question *q) {
    (void)args;
    const vs_scene_shot *shot = shot_of(q);
    bool *no_want = calloc(shot->want_count + 1, sizeof *no_want);
    vs_status status = no_want ? vs_ask_predictor_init(&q->predictor, &q->scene) : VS_ERR_MEMORY;
    if (status == VS_OK) {
        vs_predict_part part = {no_want, true, false, NULL};
        status = vs_predict_part_of_shot(&q->predictor, q->shot, &part, NULL, &q->prediction);
    }
    free(no_want);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, shot->name);
}

/* The point that --at names, or the first visible one. */
static vs_exit choose_point(const vs_ask_args *args, const question *q, size_t *point) {
    const vs_scene_shot *shot = shot_of(q);
    const char *name = vs_ask_value(args, "at");
    *point = vs_shot_grade_default(&q->prediction);
    for (size_t i = 0; name && i < shot->point_count; i++) {
        if (strcmp(shot->point[i].name, name) == 0) {
            *point = i;
            if (!q->prediction.point[i].hidden) {
                return VS_EXIT_DONE;
            }
            return vs_ask_fail(VS_EXIT_INPUT,
                               "%s:/shots/%zu/points/%zu: must be seen by the camera (%s is hidden "
                               "by %s, %.3g %s from it)",
                               q->scene.path, q->shot, i, name, q->prediction.point[i].hidden_by,
                               vs_style_length(&q->scene.style, q->prediction.point[i].hidden_at_m),
                               vs_style_length_unit(&q->scene.style));
        }
    }
    if (name) {
        return vs_ask_fail(VS_EXIT_USAGE, "--at: %s has no point named %s", shot->name, name);
    }
    return *point != VS_NONE
               ? VS_EXIT_DONE
               : vs_ask_fail(VS_EXIT_INPUT,
                             "%s:/shots/%zu/points: %s must have a point that the camera sees",
                             q->scene.path, q->shot, shot->name);
}

static vs_exit work_out(const vs_ask_args *args, question *q) {
    size_t point;
    vs_exit code = choose_point(args, q, &point);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_status status = VS_OK;
    if (isnan(q->recover)) {
        status = vs_shot_grade_best(q->scene.scene, &q->prediction, point, &q->best);
        q->recover = q->best.recover;
    }
    if (status == VS_OK) {
        status = vs_shot_grade_init(q->scene.scene, &q->prediction, point, q->recover, &q->grade);
    }
    vs_bands left = q->prediction.point[point].transmission;
    if (status == VS_ERR_DOMAIN) { /* the point is visible, and F was checked */
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/shots/%zu/points/%zu: must get at least %g of its light through "
                           "the haze to be graded (got %.3g of %s)",
                           q->scene.path, q->shot, point, VS_GRADE_TRANSMISSION_LEAST,
                           fmin(left.v[0], fmin(left.v[1], left.v[2])),
                           shot_of(q)->point[point].name);
    }
    if (status == VS_ERR_UNREACHABLE) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/shots/%zu/points/%zu: the haze before %s is as bright as camera %s "
                           "can hold: nothing of it is left to bring back",
                           q->scene.path, q->shot, point, shot_of(q)->point[point].name,
                           q->scene.scene->camera[shot_of(q)->camera].name);
    }
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, shot_of(q)->name);
}

static vs_exit write_files(const vs_ask_args *args, question *q) {
    const vs_scene_shot *shot = shot_of(q);
    const vs_curve *curve = &q->scene.scene->camera[shot->camera].curve;
    const char *point = shot->point[q->grade.point].name;
    vs_text id, words;
    vs_text_init(&id);
    vs_text_init(&words);
    vs_text_addf(&id, "veilstop %s %s", shot->name, point);
    vs_text_addf(&words,
                 "takes %.0f %% of the haze at %s out of %s, in %s: worst %.2f, mean %.2f "
                 "stops off",
                 100 * q->grade.recover, point, shot->name, vs_curve_name(curve),
                 q->grade.cdl.worst_stops, q->grade.cdl.mean_stops);
    vs_exit code = vs_ask_write_cdl(vs_ask_value(args, "cdl"), &q->grade.cdl.cdl,
                                    vs_text_words(&id, &words), &words);
    vs_text_free(&words);
    vs_text_addf(&words, "takes %.0f %% of the haze at %s out of %s, in %s", 100 * q->grade.recover,
                 point, shot->name, vs_curve_name(curve));
    if (code == VS_EXIT_DONE) {
        code = vs_ask_write_clf(vs_ask_value(args, "clf"), curve, &q->grade.linear,
                                vs_text_words(&id, &words), &words, &q->promise);
    }
    vs_text_free(&id);
    vs_text_free(&words);
    return code;
}

static vs_exit answer(const vs_ask_args *args, question *q) {
    vs_ask_peaks day;
    vs_status status = vs_ask_day_peaks(q->scene.scene, &q->predictor.haze, NULL,
                                        q->prediction.room_extinction_per_m, &day);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, q->scene.path);
    }
    vs_cautions_peaks peaks = vs_ask_peaks_of(&day);
    vs_text out;
    vs_json json;
    vs_exit code = VS_EXIT_DONE;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_ask_scene_head_json(&json, "grade", &q->scene);
        vs_report_grade_json(&json, q->scene.scene, &q->prediction, &q->grade);
        if (vs_ask_flag(args, "best")) {
            vs_report_grade_best_json(&json, shot_of(q), &q->best);
        }
        if (vs_ask_value(args, "clf")) {
            vs_json_number(&json, "clf_error", q->promise.error);
        }
        vs_ask_scene_alarms(&json, &q->scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, &q->scene);
        vs_text_addf(&out, "\n");
        vs_report_grade_text(&out, &q->scene.style, q->scene.scene, &q->prediction, &q->grade);
        if (vs_ask_flag(args, "best")) {
            vs_report_grade_best_text(&out, shot_of(q), &q->best);
        }
        vs_ask_files_text(&out, args, &q->promise);
        code = vs_ask_scene_light_caution(&out, &q->scene, &peaks, code);
    }
    code = vs_ask_print_answer(&out, &json, code);
    vs_text_free(&out);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    question q = {0};
    vs_exit code = vs_ask_scene_open(args, 0, &q.scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    size_t end = 0;
    code = read_recover(args, &q);
    if (code == VS_EXIT_DONE) {
        code = vs_ask_scene_shots(args, &q.scene, &q.shot, &end);
    }
    if (code == VS_EXIT_DONE && is_table(args, q.scene.scene, q.shot, end)) {
        code = make_table(args, &q, q.shot, end);
        vs_ask_scene_close(&q.scene);
        return code;
    }
    static vs_exit (*const step[])(const vs_ask_args *, question *) = {decide, predict, work_out,
                                                                       write_files, answer};
    for (size_t i = 0; i < sizeof step / sizeof step[0] && code == VS_EXIT_DONE; i++) {
        code = step[i](args, &q);
    }
    vs_shot_grade_free(&q.grade);
    vs_shot_prediction_free(&q.prediction);
    vs_ask_predictor_free(&q.predictor, &q.scene);
    vs_ask_scene_close(&q.scene);
    return code;
}

const vs_ask_command vs_ask_command_grade = {
    .name = "grade",
    .operands = "SCENE.json",
    .summary = "the grade that takes the haze off a point, and what it costs",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHOT,
               {"at", "POINT", "for the depth of this point (default: the first that is seen)"},
               {"recover", "F", "share of the haze taken out, 0 to 1 (default 1)"},
               {"best", NULL,
                "take out the share that leaves the least worst error over all points"},
               VS_CLI_CDL,
               VS_CLI_CLF,
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"grade data/demo/cellar.json",
                "grade data/demo/cellar.json --shot \"1 wide\" --clf back.clf"},
    .run = run,
};
