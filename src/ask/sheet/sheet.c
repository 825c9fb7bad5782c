/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop sheet: the day on paper. The plan is made first, by the functions behind choose, dwell,
 * predict, grade and cautions; then it is written down. */
#include "ask/sheet/sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ask/day_plan.h"
#include "ask/sheet/sheet_pictures.h"
#include "veilstop/base/units.h"
#include "veilstop/report/sheet.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/held.h"

#define OWN_ORDER_MOST 12 /* shots for which another order is sought: more take a while */

/* The data of one shot's row. */
typedef struct {
    vs_shot_prediction prediction;
    vs_want_result *want;
    vs_shot_grade grade;
    vs_ask_sheet_png png;
    vs_status status;
} shot_work;

typedef struct {
    const vs_ask_args *args;
    vs_ask_scene scene;
    vs_predictor *predictor; /* one a worker */
    size_t workers;
    vs_choices choices;
    vs_dwell dwell;
    bool chosen, planned;
    double shorter_s;
    vs_day day;
    vs_caution_optics optics;
    vs_cautions cautions;
    shot_work *shot;    /* one a shot of the scene */
    vs_sheet_shot *row; /* likewise */
    vs_paper paper;
    bool met;
} work;

/* ---- the question ---- */

static vs_exit read_words(work *w) {
    const char *paper = vs_ask_value(w->args, "paper");
    if (vs_ask_order(w->args, &w->chosen) != VS_EXIT_DONE) {
        return VS_EXIT_USAGE;
    }
    if (paper && strcmp(paper, "a4") != 0 && strcmp(paper, "letter") != 0) {
        return vs_ask_fail(VS_EXIT_USAGE, "--paper: must be a4 or letter (got %s)", paper);
    }
    bool letter = paper ? strcmp(paper, "letter") == 0 : w->scene.style.units == VS_LENGTH_FT;
    w->paper = letter ? VS_PAPER_LETTER : VS_PAPER_A4;
    return VS_EXIT_DONE;
}

static vs_exit allocate(work *w) {
    size_t count = w->scene.scene->shot_count;
    if (count == 0) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s:/shots: must have a shot to be put on paper (got none)",
                           w->scene.path);
    }
    w->workers = vs_ask_workers(count);
    w->predictor = calloc(w->workers + 1, sizeof *w->predictor);
    w->shot = calloc(count, sizeof *w->shot);
    w->row = calloc(count, sizeof *w->row);
    bool good = w->predictor && w->shot && w->row;
    for (size_t i = 0; i < count && good; i++) {
        w->shot[i].want = calloc(w->scene.scene->shot[i].want_count + 1, sizeof(vs_want_result));
        good = w->shot[i].want != NULL;
    }
    return good ? VS_EXIT_DONE : vs_ask_fail_status(VS_ERR_MEMORY, "sheet");
}

/* ---- the plan ---- */

static vs_exit choose(work *w) {
    vs_predictor predictor;
    vs_ask_doing("choosing densities");
    vs_status status = vs_ask_predictor_init(&predictor, &w->scene);
    if (status == VS_OK) {
        status = vs_choose(&predictor, VS_NONE, VS_CHOOSE_DENSITIES, &w->choices);
        vs_ask_predictor_free(&predictor, &w->scene);
    }
    return status == VS_OK ? vs_ask_scene_fill_densities(&w->scene, VS_NONE)
                           : vs_ask_fail_choice(w->scene.path, status, w->choices.culprit);
}

/* How much less another order waits than the file's; where none can be found, that is no
 * failure. */
static vs_exit find_order(work *w, const vs_haze *haze) {
    const vs_scene *s = w->scene.scene;
    w->shorter_s = NAN;
    if (w->chosen || s->shot_count > OWN_ORDER_MOST) {
        return VS_EXIT_DONE;
    }
    double *per_m = calloc(s->shot_count, sizeof *per_m);
    vs_order order = {0};
    vs_status status = VS_ERR_MEMORY;
    if (per_m) {
        for (size_t i = 0; i < s->shot_count; i++) {
            const vs_choice *c = &w->choices.shot[i];
            per_m[i] = isnan(c->planned_per_m) ? c->given_per_m : c->planned_per_m;
        }
        vs_ask_doing("trying orders");
        status = vs_order_day(s, haze, per_m, VS_ORDER_EXACT_MAX, &order);
        free(per_m);
    }
    if (status == VS_OK) {
        w->shorter_s = order.file_wait_s - order.wait_s;
        vs_order_free(&order);
    }
    return status == VS_ERR_MEMORY ? vs_ask_fail_status(status, w->scene.path) : VS_EXIT_DONE;
}

static vs_exit plan_day(work *w, const vs_haze *haze) {
    size_t open;
    vs_status status;
    w->planned = w->scene.scene->hazer.room != VS_NONE;
    if (!w->planned) {
        w->shorter_s = NAN;
        status = vs_day_from_shots(&w->day, w->scene.scene, haze, NULL, &open);
        return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, w->scene.path);
    }
    vs_exit code = vs_ask_day_plan(&w->scene, haze, w->chosen, &w->dwell);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    status = vs_day_from_plan(&w->day, &w->dwell);
    return status == VS_OK ? find_order(w, haze) : vs_ask_fail_status(status, w->scene.path);
}

static vs_exit plan(work *w) {
    vs_haze haze;
    vs_status status = vs_haze_init(&haze, &w->scene.scene->fluid);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, w->scene.path);
    }
    vs_exit code = plan_day(w, &haze);
    vs_haze_free(&haze);
    return code;
}

static vs_exit caution(work *w) {
    const vs_safety_tables *tables = &w->scene.safety.tables;
    vs_status status = vs_ask_scene_optics(&w->scene, &w->optics);
    if (status != VS_OK) {
        return vs_ask_fail_cautions(&w->scene, status);
    }
    status = vs_cautions_init(&w->cautions, w->scene.scene, tables, &w->optics, &w->day);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, w->scene.path);
}

/* ---- shot by shot ---- */

static vs_exit fail_shot(const work *w, size_t shot, vs_status status) {
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT;
    return vs_ask_fail(code, "%s:/shots/%zu: %s: %s", w->scene.path, shot,
                       w->scene.scene->shot[shot].name, vs_status_text(status));
}

static void predict_shot(void *context, size_t worker, size_t i) {
    work *w = context;
    const vs_scene *s = w->scene.scene;
    double rooms[VS_ROOMS_MAX];
    shot_work *shot = &w->shot[i];
    shot->status = vs_held_rooms(s, &s->shot[i], &w->predictor[0].haze, NAN, rooms);
    if (shot->status == VS_OK) {
        shot->status = vs_predict_shot(&w->predictor[worker], i, rooms, &shot->prediction);
    }
}

static vs_status make_predictors(work *w) {
    vs_status status = vs_ask_predictor_init(&w->predictor[0], &w->scene);
    for (size_t i = 1; i < w->workers && status == VS_OK; i++) {
        status = vs_predictor_init_beside(&w->predictor[i], &w->predictor[0]);
    }
    return status;
}

static vs_exit predict(work *w) {
    const vs_scene *s = w->scene.scene;
    vs_status status = make_predictors(w);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, w->scene.path);
    }
    vs_ask_each(s->shot_count, "predicting", predict_shot, w);
    for (size_t i = 0; i < s->shot_count; i++) {
        if (w->shot[i].status != VS_OK) {
            return fail_shot(w, i, w->shot[i].status);
        }
    }
    w->met = true;
    for (size_t i = 0; i < s->shot_count; i++) {
        for (size_t k = 0; k < s->shot[i].want_count; k++) {
            const vs_scene_want *want = &s->shot[i].want[k];
            const vs_shot_prediction *like =
                want->kind == VS_WANT_LIKE ? &w->shot[want->shot].prediction : NULL;
            w->shot[i].want[k] =
                vs_want_evaluate(&w->shot[i].prediction, k, &s->camera[s->shot[i].camera], like);
            w->met = w->met && w->shot[i].want[k].met;
        }
    }
    return VS_EXIT_DONE;
}

static void grade_shot(void *context, size_t worker, size_t i) {
    work *w = context;
    shot_work *shot = &w->shot[i];
    size_t point = vs_shot_grade_default(&shot->prediction);
    (void)worker;
    shot->status = point == VS_NONE ? VS_ERR_INPUT
                                    : vs_shot_grade_init(w->scene.scene, &shot->prediction, point,
                                                         1, &shot->grade);
}

/* What cannot be graded is a fact of the shot, no failure: said as the grade command says it. */
static vs_exit grade(work *w) {
    size_t count = w->scene.scene->shot_count;
    vs_ask_each(count, "grading", grade_shot, w);
    for (size_t i = 0; i < count; i++) {
        vs_sheet_shot *row = &w->row[i];
        vs_status status = w->shot[i].status;
        if (status == VS_OK) {
            row->grade = &w->shot[i].grade;
        } else if (status == VS_ERR_INPUT) {
            row->no_grade = "no point that the camera sees";
        } else if (status == VS_ERR_DOMAIN) {
            row->no_grade = "nothing of it comes through the haze";
        } else if (status == VS_ERR_UNREACHABLE) {
            row->no_grade = "the haze is as bright as the camera holds";
        } else {
            return fail_shot(w, i, status);
        }
    }
    return VS_EXIT_DONE;
}

static vs_exit draw(work *w) {
    for (size_t i = 0; i < w->scene.scene->shot_count; i++) {
        vs_status status = vs_ask_sheet_picture(&w->predictor[0], i, &w->shot[i].png);
        if (status != VS_OK) {
            return fail_shot(w, i, status);
        }
        w->row[i].prediction = &w->shot[i].prediction;
        w->row[i].want = w->shot[i].want;
        w->row[i].png = w->shot[i].png.bytes;
        w->row[i].png_length = w->shot[i].png.length;
        w->row[i].png_width = w->shot[i].png.width;
        w->row[i].png_height = w->shot[i].png.height;
    }
    return VS_EXIT_DONE;
}

/* ---- the answer ---- */

static void write_html(const work *w, vs_text *html) {
    const vs_sheet_answer answer = {
        .title = w->scene.scene->title ? w->scene.scene->title : w->scene.path,
        .scene = w->scene.scene,
        .choices = &w->choices,
        .dwell = w->planned ? &w->dwell : NULL,
        .shorter_s = w->shorter_s,
        .cautions = {w->scene.scene, &w->scene.safety.tables, &w->optics, &w->day, &w->cautions},
        .shot = w->row,
        .paper = w->paper};
    vs_report_sheet(html, &w->scene.style, &answer);
}

static vs_cautions_peaks peaks_of(const work *w) {
    vs_cautions_peaks peaks = {w->cautions.peak_per_m,
                               w->planned ? VS_CAUTIONS_BY_PLAN : VS_CAUTIONS_BY_SHOTS};
    return peaks;
}

static size_t shot_in_order(const work *w, size_t place) {
    return w->planned ? w->dwell.shot[place].shot : place;
}

static vs_exit tell_json(const work *w, const vs_text *html, vs_exit code) {
    const vs_scene *s = w->scene.scene;
    vs_cautions_peaks peaks = peaks_of(w);
    vs_text text;
    vs_json json;
    vs_text_init(&text);
    vs_json_begin(&json, &text);
    vs_ask_scene_head_json(&json, "sheet", &w->scene);
    vs_json_string(&json, "paper", w->paper == VS_PAPER_LETTER ? "letter" : "a4");
    vs_json_open_array(&json, "shots");
    for (size_t i = 0; i < s->shot_count; i++) {
        double start_s = w->planned ? w->dwell.shot[i].start_s : (double)NAN;
        vs_json_open_object(&json, NULL);
        vs_json_string(&json, "name", s->shot[shot_in_order(w, i)].name);
        vs_json_number_or_null(&json, "start_min", start_s / VS_S_PER_MIN);
        vs_json_close_object(&json);
    }
    vs_json_close_array(&json);
    vs_json_bool(&json, "planned", w->planned);
    if (!vs_ask_value(w->args, "out")) {
        vs_json_string(&json, "html", html->bytes);
    }
    vs_ask_scene_alarms(&json, &w->scene, &peaks);
    vs_json_close_object(&json);
    vs_text_addf(&text, "\n");
    code = vs_ask_print_answer(&text, &json, code);
    vs_text_free(&text);
    return code;
}

static vs_exit tell_text(const work *w, vs_exit code) {
    static const char *const file[] = {"out", "pdf"};
    vs_cautions_peaks peaks = peaks_of(w);
    vs_text text;
    vs_text_init(&text);
    vs_ask_scene_head(&text, &w->scene);
    for (size_t i = 0; i < 2; i++) {
        const char *path = vs_ask_value(w->args, file[i]);
        if (path) {
            vs_text_addf(&text, "wrote ");
            vs_ask_add_name(&text, path);
            vs_text_addf(&text, "%s\n",
                         i == 0 ? ": print it from any browser" : ", the same on pages");
        }
    }
    vs_text_addf(&text, "the crew's pages (shots, run sheet, place, card, cautions), then one for "
                        "the venue\n");
    code = vs_ask_scene_cautions(&text, &w->scene, &peaks, code);
    code = vs_ask_print(&text, code);
    vs_text_free(&text);
    return code;
}

static vs_exit finish(work *w, vs_exit (*also)(const vs_ask_args *, const vs_text *)) {
    const char *out = vs_ask_value(w->args, "out");
    bool fine = w->met && w->planned && vs_dwell_met(&w->dwell);
    vs_exit ending = fine && !vs_cautions_any_reached(&w->cautions) ? VS_EXIT_DONE : VS_EXIT_UNMET;
    vs_text html;
    vs_text_init(&html);
    write_html(w, &html);
    vs_exit code = html.failed ? vs_ask_fail_status(VS_ERR_MEMORY, w->scene.path) : VS_EXIT_DONE;
    if (code == VS_EXIT_DONE && out && vs_ask_file_write(out, html.bytes, html.length) != VS_OK) {
        code = vs_ask_fail_file(out, "written");
    }
    if (code == VS_EXIT_DONE && also) {
        code = also(w->args, &html);
    }
    if (code == VS_EXIT_DONE) {
        code = vs_ask_flag(w->args, "json")          ? tell_json(w, &html, ending)
               : out || vs_ask_value(w->args, "pdf") ? tell_text(w, ending)
                                                     : vs_ask_print(&html, ending);
    }
    vs_text_free(&html);
    return code;
}

static void free_work(work *w) {
    for (size_t i = 0; w->shot && i < w->scene.scene->shot_count; i++) {
        free(w->shot[i].png.bytes);
        vs_shot_grade_free(&w->shot[i].grade);
        vs_shot_prediction_free(&w->shot[i].prediction);
        free(w->shot[i].want);
    }
    vs_cautions_free(&w->cautions);
    vs_day_free(&w->day);
    vs_dwell_free(&w->dwell);
    for (size_t i = w->workers; w->predictor && i-- > 0;) {
        vs_ask_predictor_free(&w->predictor[i], &w->scene);
    }
    vs_choices_free(&w->choices);
    free(w->predictor);
    free(w->shot);
    free(w->row);
    vs_ask_scene_close(&w->scene);
}

vs_exit vs_ask_sheet(const vs_ask_args *args,
                     vs_exit (*also)(const vs_ask_args *args, const vs_text *html)) {
    static vs_exit (*const step[])(work *) = {read_words, allocate, choose, plan,
                                              caution,    predict,  grade,  draw};
    work w = {.args = args};
    vs_exit code = vs_ask_scene_open(args, 0, &w.scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    for (size_t i = 0; i < sizeof step / sizeof step[0] && code == VS_EXIT_DONE; i++) {
        code = step[i](&w);
    }
    if (code == VS_EXIT_DONE) {
        code = finish(&w, also);
    }
    free_work(&w);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    return vs_ask_sheet(args, NULL);
}

const vs_ask_command vs_ask_command_sheet = {
    .name = "sheet",
    .operands = "SCENE.json",
    .summary = VS_ASK_SHEET_SUMMARY,
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHEET_OUT, VS_ASK_ORDER, VS_ASK_SHEET_PAPER, VS_ASK_JSON, VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"sheet data/demo/cellar.json --out day.html",
                "sheet data/demo/cellar.json --order chosen --out day.html"},
    .run = run,
};
