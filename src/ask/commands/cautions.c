/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop cautions: what the day's haze means for people, alarms and exits. */
#include "veilstop/report/cautions.h"
#include "ask/day_plan.h"

/* The day: planned or, if there is no hazer, by the shots' densities.
 * dwell  blank; to be freed after the day */
static vs_exit make_day(const vs_ask_scene *scene, bool chosen, vs_dwell *dwell, vs_day *day) {
    vs_haze haze;
    size_t open = VS_NONE;
    vs_exit code = VS_EXIT_DONE;
    vs_status status = vs_haze_init(&haze, &scene->scene->fluid);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, scene->path);
    }
    if (scene->scene->hazer.room == VS_NONE) {
        status = vs_day_from_shots(day, scene->scene, &haze, NULL, &open);
    } else {
        code = vs_ask_day_plan(scene, &haze, chosen, dwell);
        if (code == VS_EXIT_DONE) {
            status = vs_day_from_plan(day, dwell);
        }
    }
    if (status != VS_OK) {
        code = vs_ask_fail_status(status, scene->path);
    }
    vs_haze_free(&haze);
    return code;
}

static vs_exit print(const vs_ask_args *args, const vs_ask_scene *scene,
                     const vs_cautions_answer *answer) {
    bool reached = vs_cautions_any_reached(answer->cautions);
    vs_text out;
    vs_json json;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_ask_scene_head_json(&json, "cautions", scene);
        vs_report_cautions_json(&json, answer);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, scene);
        vs_text_addf(&out, "\n");
        vs_report_cautions_text(&out, &scene->style, answer);
    }
    vs_exit code = vs_ask_print_answer(&out, &json, reached ? VS_EXIT_UNMET : VS_EXIT_DONE);
    vs_text_free(&out);
    return code;
}

static vs_exit judge(const vs_ask_args *args, const vs_ask_scene *scene, const vs_day *day) {
    const vs_safety_tables *tables = &scene->safety.tables;
    vs_caution_optics optics;
    vs_cautions cautions;
    vs_status status = vs_ask_scene_optics(scene, &optics);
    if (status != VS_OK) {
        return vs_ask_fail_cautions(scene, status);
    }
    status = vs_cautions_init(&cautions, scene->scene, tables, &optics, day);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, scene->path);
    }
    vs_cautions_answer answer = {scene->scene, tables, &optics, day, &cautions};
    vs_exit code = print(args, scene, &answer);
    vs_cautions_free(&cautions);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    vs_day day;
    vs_dwell dwell = {0};
    bool chosen;
    vs_exit code = vs_ask_order(args, &chosen);
    if (code == VS_EXIT_DONE) {
        code = vs_ask_scene_open(args, 0, &scene);
    }
    if (code != VS_EXIT_DONE) {
        return code;
    }
    code = vs_ask_scene_fill_densities(&scene, VS_NONE);
    if (code == VS_EXIT_DONE) {
        code = make_day(&scene, chosen, &dwell, &day);
    }
    if (code == VS_EXIT_DONE) {
        code = judge(args, &scene, &day);
        vs_day_free(&day);
    }
    vs_dwell_free(&dwell);
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_cautions = {
    .name = "cautions",
    .operands = "SCENE.json",
    .summary =
        "what the day's haze means for breathing, detectors and exits; clearing; a checklist",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_ORDER, VS_ASK_JSON, VS_ASK_UNITS, VS_ASK_DATA},
    .example = {"cautions data/demo/cellar.json", "cautions data/demo/cellar.json --json"},
    .run = run,
};
