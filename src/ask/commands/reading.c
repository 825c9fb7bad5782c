/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop reading: what a card says about the haze, and the scene corrected accordingly. */
#include "veilstop/report/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ask/day_plan.h"
#include "ask/scene_args.h"
#include "ask/scene_write.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/file_out.h"
#include "veilstop/scene/edit.h"
#include "veilstop/scene/file.h"

#define SET_MOST_M      50   /* [m] if no scene gives the size of the room; our choice */
#define RATE_MOST_PER_H 1000 /* [1/h] as in the scene reader */
#define POINTER_SIZE    64   /* [bytes] of a JSON pointer to an edited figure */

/* ---- a reading from the command line ---- */

/* "80,2.4": a white and a black patch. */
static bool read_patches(const vs_ask_args *args, const char *option, double *white,
                         double *black) {
    const char *text = vs_ask_value(args, option);
    size_t first = text ? vs_number_parse(text, white) : 0;
    size_t second = first && text[first] == ',' ? vs_number_parse(text + first + 1, black) : 0;
    if (second && text[first + 1 + second] == '\0' && *white > *black && *black >= 0) {
        return true;
    }
    vs_ask_fail(VS_EXIT_USAGE,
                "--%s: must be a white and a darker black patch, such as 80,2.4 "
                "(got %s)",
                option, text ? text : "none");
    return false;
}

/* A length with its unit, or a number in the unit of --units. */
static bool read_length(const vs_ask_args *args, const char *option, double least_m,
                        double *length_m) {
    const char *text = vs_ask_value(args, option);
    vs_length_unit units = VS_LENGTH_M;
    double metres;
    if (!vs_ask_units(args, &units)) {
        return false;
    }
    if (text && vs_length_parse(text, &metres) != VS_OK) {
        size_t used = vs_number_parse(text, &metres);
        metres = used && text[used] == '\0' ? metres * vs_length_unit_m(units) : -1;
    }
    if (text && metres >= least_m && metres <= 1e4) {
        *length_m = metres;
        return true;
    }
    vs_ask_fail(VS_EXIT_USAGE,
                "--%s: must be a length from %g m to 10 km, such as \"8 m\" (got %s)", option,
                least_m, text ? text : "none");
    return false;
}

static bool read_flags(const vs_ask_args *args, vs_scene_reading *given, vs_camera *camera) {
    given->lit_by = given->camera = VS_NONE;
    given->uncertainty_stops = 0.1; /* [stops] common practice, as in a scene */
    const char *curve = vs_ask_value(args, "curve");
    given->percent = curve != NULL;
    camera->stops_above_grey = 1e3; /* only the curve clips */
    if (curve && vs_curve_named(curve, &camera->curve) != VS_OK) {
        vs_ask_fail(VS_EXIT_USAGE,
                    "--curve: must be linear, bt709, srgb, acescct, hlg or pq (got %s)", curve);
        return false;
    }
    return read_length(args, "distance", 0.1, &given->distance_m) &&
           (!vs_ask_value(args, "lit-from") ||
            read_length(args, "lit-from", 0, &given->lit_from_m)) &&
           read_patches(args, "clear", &given->clear_white, &given->clear_black) &&
           read_patches(args, "hazed", &given->hazed_white, &given->hazed_black) &&
           vs_ask_number(args, "uncertainty", 0.001, 3, &given->uncertainty_stops);
}

/* The fault of a reading, as one clause. */
static void add_fault(vs_faults *faults, const char *where, const vs_scene_reading *given,
                      vs_status status) {
    double kept =
        (given->hazed_white - given->hazed_black) / (given->clear_white - given->clear_black);
    if (status == VS_ERR_UNREACHABLE && !given->percent) {
        vs_faults_add(faults, where,
                      "must have less contrast with haze than without, but for the meter's error "
                      "(got %.3g times as much)",
                      kept);
    } else if (status == VS_ERR_UNREACHABLE) {
        vs_faults_add(faults, where, "must have less contrast with haze than without (got more)");
    } else if (status == VS_ERR_INPUT) {
        vs_faults_add(faults, where,
                      "must have a card that its camera sees and its lamp reaches (got one at %.3g "
                      "m, where that is not so)",
                      given->distance_m);
    } else if (given->percent) {
        vs_faults_add(faults, where,
                      "must be percentages under clipping, white over black (got "
                      "%.4g and %.4g, %.4g and %.4g)",
                      given->clear_white, given->clear_black, given->hazed_white,
                      given->hazed_black);
    } else {
        vs_faults_add(faults, where,
                      "must be a white from %g to %g cd/m2 over a black (got "
                      "%.4g and %.4g, %.4g and %.4g)",
                      VS_READING_LEAST, VS_READING_MOST, given->clear_white, given->clear_black,
                      given->hazed_white, given->hazed_black);
    }
}

static vs_exit run_flags(const vs_ask_args *args) {
    vs_scene_reading given = {0};
    vs_camera camera = {0};
    vs_reading reading;
    if (vs_ask_value(args, "write") || vs_ask_value(args, "shot") || vs_ask_value(args, "as") ||
        vs_ask_value(args, "data")) {
        return vs_ask_fail(VS_EXIT_USAGE, "--write, --shot, --as and --data: need a scene");
    }
    if (!vs_ask_value(args, "distance") && !vs_ask_value(args, "hazed")) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "reading: give SCENE.json, or --distance, --clear and --hazed");
    }
    if (!read_flags(args, &given, &camera)) {
        return VS_EXIT_USAGE;
    }
    vs_status status = vs_reading_of(&given, &camera, fmax(given.distance_m, SET_MOST_M), &reading);
    if (status != VS_OK) {
        vs_faults faults = {0};
        add_fault(&faults, "", &given, status);
        bool clear_reads = given.clear_white >= VS_READING_LEAST &&
                           given.clear_white <= VS_READING_MOST &&
                           given.clear_black < given.clear_white;
        return vs_ask_fail_faults(clear_reads ? "--hazed" : "--clear", &faults);
    }
    vs_text out;
    vs_json json;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_json_open_object(&json, NULL);
        vs_json_string(&json, "command", "reading");
        vs_json_open_array(&json, "readings");
        vs_report_reading_json(&json, &given, &reading);
        vs_json_close_array(&json);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        const char *units = vs_ask_value(args, "units");
        const vs_scene none = {0};
        vs_style style = {units && strcmp(units, "ft") == 0 ? VS_LENGTH_FT : VS_LENGTH_M, false};
        vs_report_reading_text(&out, &style, &given, &reading);
        vs_report_short_cautions(&out, &none);
    }
    vs_exit code = vs_ask_print_answer(&out, &json, VS_EXIT_DONE);
    vs_text_free(&out);
    return code;
}

/* ---- readings of a scene ---- */

typedef struct {
    vs_ask_scene scene;
    vs_haze haze;
    vs_readings readings;
    vs_reading_ask ask;
} question;

static vs_exit read_ask(const vs_ask_args *args, question *q) {
    static const char *const flag[] = {"distance", "clear", "hazed",
                                       "lit-from", "curve", "uncertainty"};
    for (size_t i = 0; i < sizeof flag / sizeof flag[0]; i++) {
        if (vs_ask_value(args, flag[i])) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: is for a reading without a scene", flag[i]);
        }
    }
    const char *as = vs_ask_value(args, "as");
    q->ask.as = !as ? VS_READ_ALONE : strcmp(as, "decay") == 0 ? VS_READ_DECAY : VS_READ_PLAN;
    if (as && q->ask.as == VS_READ_PLAN && strcmp(as, "plan") != 0) {
        return vs_ask_fail(VS_EXIT_USAGE, "--as: must be decay or plan (got %s)", as);
    }
    size_t first, end;
    vs_exit code = vs_ask_scene_shots(args, &q->scene, &first, &end);
    q->ask.shot = vs_ask_value(args, "shot") ? first : VS_NONE;
    return code;
}

/* Reports every reading that is invalid by itself. */
static vs_exit check_each(const question *q) {
    const vs_scene *scene = q->scene.scene;
    vs_faults faults = {0};
    if (scene->reading_count == 0) {
        return vs_ask_fail(VS_EXIT_INPUT, "%s:/readings: must hold at least one reading (got none)",
                           q->scene.path);
    }
    for (size_t i = 0; i < scene->reading_count; i++) {
        const vs_scene_reading *given = &scene->reading[i];
        char where[POINTER_SIZE];
        snprintf(where, sizeof where, "/readings/%zu", i);
        if (given->lit_by != VS_NONE && given->camera == VS_NONE) {
            vs_faults_add(&faults, where,
                          "must name its camera, on whose axis the card stands, "
                          "where a lamp of the scene lights it");
            continue;
        }
        const vs_camera *camera = given->camera == VS_NONE ? NULL : &scene->camera[given->camera];
        vs_reading reading;
        vs_status status = vs_reading_of(given, camera, INFINITY, &reading);
        if (status != VS_OK) {
            add_fault(&faults, where, given, status);
        }
    }
    return vs_faults_any(&faults) ? vs_ask_fail_faults(q->scene.path, &faults) : VS_EXIT_DONE;
}

static vs_exit work_out(question *q) {
    vs_status status = vs_haze_init(&q->haze, &q->scene.scene->fluid);
    if (status == VS_OK) {
        status = vs_readings_init(q->scene.scene, &q->haze, q->ask, &q->readings);
    }
    if (status != VS_OK && q->readings.culprit < q->scene.scene->reading_count) {
        char where[POINTER_SIZE];
        vs_faults faults = {0};
        snprintf(where, sizeof where, "/readings/%zu", q->readings.culprit);
        add_fault(&faults, where, &q->scene.scene->reading[q->readings.culprit], status);
        return vs_ask_fail_faults(q->scene.path, &faults);
    }
    if (status != VS_OK) {
        return vs_ask_fail_plan(&q->scene, status, VS_NONE);
    }
    if (q->ask.as == VS_READ_PLAN && q->readings.as != VS_READ_PLAN) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--as: must be decay: the plan of %s puts no haze where it was read",
                           q->scene.path);
    }
    return VS_EXIT_DONE;
}

/* ---- the scene with the fitted figures ---- */

typedef struct {
    vs_scene_edit *edit;
    char (*pointer)[POINTER_SIZE];
    size_t count;
} edits;

static void add_edit(edits *e, const char *key, size_t room, double value) {
    snprintf(e->pointer[e->count], POINTER_SIZE, "/rooms/%zu/%s", room, key);
    e->edit[e->count].pointer = e->pointer[e->count];
    e->edit[e->count++].value = value;
}

/* The output of each machine: all are scaled alike, as readings cannot distinguish them. */
static void add_outputs(edits *e, const vs_scene_hazer *hazer, double ratio) {
    for (size_t i = 0; i < hazer->machine_count; i++) {
        if (hazer->share) {
            snprintf(e->pointer[e->count], POINTER_SIZE, "/hazer/%zu/fluid_ml_per_h", i);
        } else {
            snprintf(e->pointer[e->count], POINTER_SIZE, "/hazer/fluid_ml_per_h");
        }
        e->edit[e->count].pointer = e->pointer[e->count];
        e->edit[e->count++].value = ratio * hazer->machine[i].fluid_ml_per_s * VS_S_PER_H;
    }
}

static void collect(edits *e, const vs_scene *scene, const vs_readings *all) {
    for (size_t i = 0; i < scene->room_count; i++) {
        const vs_room_readings *r = &all->room[i];
        double air, deposition;
        if (isnan(r->loss_per_s) || !(r->share <= VS_READING_PLENTY)) {
            continue;
        }
        vs_room_loss_to_rates(&scene->room[i], r->floor_loss_per_s, r->loss_per_s, &air,
                              &deposition, NULL);
        add_edit(e, "air_changes_per_h", i, fmin(air * VS_S_PER_H, RATE_MOST_PER_H));
        if (deposition != scene->room[i].deposition_per_s) {
            add_edit(e, "deposition_per_h", i, deposition * VS_S_PER_H);
        }
    }
    double share = INFINITY;
    for (size_t i = 0; i < scene->room_count; i++) {
        share = all->room[i].count > 0 ? fmin(share, all->room[i].share) : share;
    }
    if (!isnan(all->output_ratio) && share <= VS_READING_PLENTY) {
        add_outputs(e, &scene->hazer, all->output_ratio);
    }
}

static vs_exit write_scene(const vs_ask_args *args, const question *q) {
    const vs_scene *scene = q->scene.scene;
    if (!vs_ask_value(args, "write")) {
        return VS_EXIT_DONE;
    }
    size_t most = 2 * scene->room_count + scene->hazer.machine_count + 1;
    edits e = {calloc(most, sizeof *e.edit), calloc(most, sizeof *e.pointer), 0};
    vs_exit code = VS_EXIT_DONE;
    if (!e.edit || !e.pointer) {
        code = vs_ask_fail_status(VS_ERR_MEMORY, "reading");
    } else {
        collect(&e, scene, &q->readings);
        code = e.count > 0
                   ? vs_ask_scene_write(args, &q->scene, e.edit, e.count, "the fitted scene")
                   : vs_ask_fail(VS_EXIT_INPUT,
                                 "%s:/readings: must tell a loss or the hazer's output to 50 %% "
                                 "before it can be written (got %zu, telling neither)",
                                 q->scene.path, scene->reading_count);
    }
    free(e.edit);
    free(e.pointer);
    return code;
}

/* The cautions of the thickest reading in each room. */
static vs_exit add_cautions(vs_text *out, const question *q) {
    double thickest_per_m[VS_ROOMS_MAX] = {0};
    for (size_t i = 0; i < q->readings.count; i++) {
        size_t room = q->scene.scene->reading[i].room;
        thickest_per_m[room] = fmax(thickest_per_m[room], q->readings.reading[i].extinction_per_m);
    }
    vs_cautions_peaks peaks = {thickest_per_m, VS_CAUTIONS_BY_ANSWER};
    return vs_ask_scene_cautions(out, &q->scene, &peaks, VS_EXIT_DONE);
}

static vs_exit answer(const vs_ask_args *args, const question *q) {
    vs_text out;
    vs_json json;
    vs_exit code = VS_EXIT_DONE;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_ask_scene_head_json(&json, "reading", &q->scene);
        vs_report_readings_json(&json, q->scene.scene, &q->readings);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, &q->scene);
        vs_text_addf(&out, "\n");
        vs_report_readings_text(&out, &q->scene.style, q->scene.scene, &q->readings);
        if (vs_ask_value(args, "write")) {
            vs_text_addf(&out, "\nwrote ");
            vs_ask_add_name(&out, vs_ask_value(args, "write"));
            vs_text_addf(&out, ", the scene with these figures\n");
        }
        code = add_cautions(&out, q);
    }
    code = vs_ask_print_answer(&out, &json, code);
    vs_text_free(&out);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    if (args->operand_count == 0) {
        return run_flags(args);
    }
    question q = {0};
    vs_exit code = vs_ask_scene_open(args, 0, &q.scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    code = read_ask(args, &q);
    if (code == VS_EXIT_DONE) {
        code = check_each(&q);
    }
    if (code == VS_EXIT_DONE) {
        code = vs_ask_scene_fill_densities(&q.scene, VS_NONE);
    }
    if (code == VS_EXIT_DONE) {
        code = work_out(&q);
    }
    if (code == VS_EXIT_DONE) {
        code = write_scene(args, &q);
    }
    if (code == VS_EXIT_DONE) {
        code = answer(args, &q);
    }
    vs_readings_free(&q.readings);
    vs_haze_free(&q.haze);
    vs_ask_scene_close(&q.scene);
    return code;
}

const vs_ask_command vs_ask_command_reading = {
    .name = "reading",
    .operands = "[SCENE.json]",
    .summary =
        "a black-and-white card read on the set: how thick, how fast it goes, when to top up",
    .operand_min = 0,
    .operand_max = 1,
    .option = {{"write", "FILE", "the scene with the fitted losses and hazer output"},
               {"shot", "NAME", "top up for this shot (default: the one that is on, or next)"},
               {"as", "decay|plan",
                "the hazer was off, or the plan was played (default: what fits)"},
               {"distance", "LENGTH", "without a scene: to the card, \"8 m\" or \"26 ft\""},
               {"clear", "W,B", "its white and black patch before haze, cd/m2"},
               {"hazed", "W,B", "the same with haze"},
               {"lit-from", "LENGTH", "from its lamp to the card (default: close by)"},
               {"curve", "NAME", "the figures are percent of this camera curve"},
               {"uncertainty", "STOPS", "of the meter (default 0.1)"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"reading data/demo/cellar.json",
                "reading data/demo/cellar.json --write fitted.json"},
    .run = run,
};
