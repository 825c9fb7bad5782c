/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/grade/grade_table.h"

#include <math.h>
#include <stdlib.h>

#include "ask/day_plan.h"
#include "veilstop/report/grade.h"

typedef struct {
    vs_ask_scene *scene;
    size_t first, end; /* shots */
    double recover;    /* NaN: the best */
    bool as_json;
    vs_text *out;
    vs_json *json;
    double *thickest_per_m; /* [1/m] one per room: of all shots */
} table;

static void add_grade(const table *t, const vs_shot_prediction *prediction,
                      const vs_shot_grade *grade, const vs_shot_grade_share *best) {
    if (!t->as_json) {
        vs_report_grade_row(t->out, prediction, grade);
        if (best) {
            vs_report_grade_best_text(t->out, prediction->shot, best);
        }
        return;
    }
    vs_json_open_object(t->json, NULL);
    vs_report_grade_json(t->json, t->scene->scene, prediction, grade);
    if (best) {
        vs_report_grade_best_json(t->json, prediction->shot, best);
    }
    vs_json_close_object(t->json);
}

/* That a point cannot be graded is a result, not a failure: all white, or nothing left. */
static vs_status no_grade(const table *t, const char *point, vs_status status) {
    if (status != VS_ERR_UNREACHABLE && status != VS_ERR_DOMAIN) {
        return status;
    }
    if (!t->as_json) {
        vs_text_addf(t->out,
                     status == VS_ERR_DOMAIN
                         ? "  %s: nothing of it comes through the haze\n"
                         : "  %s: the haze before it is as bright as the camera holds\n",
                     point);
    }
    return VS_OK;
}

/* The line of one point, or why there is no grade. */
static vs_status one_point(const table *t, const vs_shot_prediction *prediction, size_t point) {
    vs_shot_grade_share best;
    double recover = t->recover;
    vs_status status = VS_OK;
    if (isnan(recover)) {
        status = vs_shot_grade_best(t->scene->scene, prediction, point, &best);
        recover = best.recover;
    }
    if (status != VS_OK) {
        return no_grade(t, prediction->shot->point[point].name, status);
    }
    vs_shot_grade grade;
    status = vs_shot_grade_init(t->scene->scene, prediction, point, recover, &grade);
    if (status == VS_OK) {
        add_grade(t, prediction, &grade, isnan(t->recover) ? &best : NULL);
        vs_shot_grade_free(&grade);
    } else {
        status = no_grade(t, prediction->shot->point[point].name, status);
    }
    return status;
}

static vs_status one_shot(const table *t, vs_predictor *predictor, size_t shot) {
    const vs_scene_shot *s = &t->scene->scene->shot[shot];
    bool *no_want = calloc(s->want_count + 1, sizeof *no_want);
    if (!no_want) {
        return VS_ERR_MEMORY;
    }
    vs_predict_part part = {no_want, true, false, NULL};
    vs_shot_prediction prediction;
    vs_status status = vs_predict_part_of_shot(predictor, shot, &part, NULL, &prediction);
    free(no_want);
    if (status != VS_OK) {
        return status;
    }
    for (size_t i = 0; i < t->scene->scene->room_count; i++) {
        t->thickest_per_m[i] = fmax(t->thickest_per_m[i], prediction.room_extinction_per_m[i]);
    }
    if (!t->as_json) {
        vs_text_addf(t->out, "\n");
        vs_style_words(t->out, &t->scene->style, VS_INK_HEAD, s->name);
        vs_text_addf(t->out, "\n");
        if (vs_shot_grade_default(&prediction) == VS_NONE) {
            vs_text_addf(t->out, "  no point that the camera sees\n");
        } else {
            vs_report_grade_head(t->out, &t->scene->style, &t->scene->scene->camera[s->camera]);
        }
    }
    for (size_t i = 0; i < s->point_count && status == VS_OK; i++) {
        status = prediction.point[i].hidden ? VS_OK : one_point(t, &prediction, i);
    }
    vs_shot_prediction_free(&prediction);
    return status;
}

/* All shots, then the day's peaks. */
static vs_exit fill(const table *t, vs_ask_peaks *peaks) {
    vs_predictor predictor;
    const char *name = t->scene->path;
    vs_ask_doing("grading");
    vs_status status = vs_ask_predictor_init(&predictor, t->scene);
    for (size_t i = t->first; i < t->end && status == VS_OK; i++) {
        vs_ask_share_done(i - t->first, t->end - t->first);
        name = t->scene->scene->shot[i].name;
        status = one_shot(t, &predictor, i);
    }
    if (status == VS_OK) {
        status = vs_ask_day_peaks(t->scene->scene, &predictor.haze, NULL, t->thickest_per_m, peaks);
    }
    vs_ask_predictor_free(&predictor, t->scene);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, name);
}

vs_exit vs_ask_grade_table(const vs_ask_args *args, vs_ask_scene *scene, double recover,
                           size_t first, size_t end) {
    vs_exit code = vs_ask_scene_fill_densities(scene, end - first == 1 ? first : VS_NONE);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    double *thickest_per_m = calloc(scene->scene->room_count + 1, sizeof *thickest_per_m);
    if (!thickest_per_m) {
        return vs_ask_fail_status(VS_ERR_MEMORY, scene->path);
    }
    vs_ask_peaks day = {.basis = VS_CAUTIONS_BY_ANSWER};
    vs_cautions_peaks peaks = {day.room_extinction_per_m, day.basis};
    vs_text out;
    vs_json json;
    vs_exit answered = VS_EXIT_DONE;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    table t = {scene, first, end, recover, vs_ask_flag(args, "json"), &out, &json, thickest_per_m};
    if (t.as_json) {
        vs_ask_scene_head_json(&json, "grade", scene);
        vs_json_open_array(&json, "grades");
        code = fill(&t, &day);
        peaks = vs_ask_peaks_of(&day);
        vs_json_close_array(&json);
        vs_ask_scene_alarms(&json, scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, scene);
        code = fill(&t, &day);
        peaks = vs_ask_peaks_of(&day);
        answered =
            code == VS_EXIT_DONE ? vs_ask_scene_light_caution(&out, scene, &peaks, code) : code;
    }
    if (code == VS_EXIT_DONE) {
        code = vs_ask_print_answer(&out, &json, answered);
    }
    vs_text_free(&out);
    free(thickest_per_m);
    return code;
}
