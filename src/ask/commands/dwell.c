/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop dwell: the day's plan for the hazer. */
#include "veilstop/report/dwell.h"

#include <stdlib.h>
#include <string.h>

#include "ask/day_plan.h"

static vs_exit print_json(const vs_ask_scene *scene, const vs_dwell *dwell,
                          const vs_cautions_peaks *peaks, vs_text *out, vs_exit code) {
    vs_json json;
    vs_json_begin(&json, out);
    vs_ask_scene_head_json(&json, "dwell", scene);
    vs_report_dwell_json(&json, scene->scene, dwell);
    vs_ask_scene_alarms(&json, scene, peaks);
    vs_json_close_object(&json);
    vs_text_addf(out, "\n");
    return vs_ask_print_answer(out, &json, code);
}

static vs_exit print_plan(const vs_ask_args *args, const vs_ask_scene *scene,
                          const vs_dwell *dwell) {
    vs_exit code = vs_dwell_met(dwell) ? VS_EXIT_DONE : VS_EXIT_UNMET;
    vs_ask_peaks day = vs_ask_plan_peaks(dwell);
    vs_cautions_peaks peaks = vs_ask_peaks_of(&day);
    vs_text out;
    vs_text_init(&out);
    if (vs_ask_flag(args, "json")) {
        code = print_json(scene, dwell, &peaks, &out, code);
    } else {
        vs_ask_scene_head(&out, scene);
        vs_text_addf(&out, "\n");
        vs_report_dwell_text(&out, &scene->style, scene->scene, dwell);
        code = vs_ask_scene_cautions(&out, scene, &peaks, code);
        code = vs_ask_print(&out, code);
    }
    vs_text_free(&out);
    return code;
}

/* Haze is wanted but there is no hazer: prints the rooms' losses, without a plan. */
static vs_exit print_no_hazer(const vs_ask_args *args, const vs_ask_scene *scene,
                              const vs_haze *haze, const vs_dwell *clear) {
    const double none[VS_ROOMS_MAX] = {0};
    vs_ask_peaks day;
    vs_status status = vs_ask_day_peaks(scene->scene, haze, NULL, none, &day);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, scene->path);
    }
    vs_cautions_peaks peaks = vs_ask_peaks_of(&day);
    vs_text out;
    vs_json json;
    vs_exit code = VS_EXIT_UNMET;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        vs_ask_scene_head_json(&json, "dwell", scene);
        vs_report_no_hazer_json(&json, scene->scene, clear);
        vs_ask_scene_alarms(&json, scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, scene);
        vs_text_addf(&out, "\n");
        vs_report_no_hazer_text(&out, &scene->style, scene->scene, clear);
        code = vs_ask_scene_cautions(&out, scene, &peaks, code);
    }
    code = vs_ask_print_answer(&out, &json, code);
    vs_text_free(&out);
    return code;
}

static bool wants_haze(const vs_scene *scene) {
    for (size_t i = 0; i < scene->shot_count; i++) {
        const vs_scene_shot *shot = &scene->shot[i];
        size_t room = vs_dwell_room_at(scene, scene->camera[shot->camera].at_m);
        if (room != VS_OUTSIDE && shot->room_density && shot->room_density[room] > 0) {
            return true;
        }
    }
    return false;
}

static vs_exit plan_without_hazer(const vs_ask_args *args, const vs_ask_scene *scene,
                                  const vs_haze *haze) {
    vs_dwell dwell;
    double *none = calloc(scene->scene->shot_count + 1, sizeof *none);
    vs_status status = none ? vs_dwell_plan(scene->scene, haze, NULL, none, &dwell) : VS_ERR_MEMORY;
    free(none);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, scene->path);
    }
    vs_exit code = print_no_hazer(args, scene, haze, &dwell);
    vs_dwell_free(&dwell);
    return code;
}

static vs_exit plan(const vs_ask_args *args, const vs_ask_scene *scene, const vs_haze *haze,
                    bool chosen) {
    vs_dwell dwell;
    vs_exit code = vs_ask_day_plan(scene, haze, chosen, &dwell);
    if (code == VS_EXIT_DONE) {
        code = print_plan(args, scene, &dwell);
        vs_dwell_free(&dwell);
    }
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    bool chosen;
    vs_exit code = vs_ask_order(args, &chosen);
    if (code == VS_EXIT_DONE) {
        code = vs_ask_scene_open(args, 0, &scene);
    }
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_haze haze;
    vs_status status = VS_OK;
    code = vs_ask_scene_fill_densities(&scene, VS_NONE);
    if (code == VS_EXIT_DONE) {
        status = vs_haze_init(&haze, &scene.scene->fluid);
    }
    if (status != VS_OK) {
        code = vs_ask_fail_status(status, scene.path);
    } else if (code == VS_EXIT_DONE) {
        bool planned = scene.scene->hazer.room != VS_NONE || !wants_haze(scene.scene);
        code =
            planned ? plan(args, &scene, &haze, chosen) : plan_without_hazer(args, &scene, &haze);
        vs_haze_free(&haze);
    }
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_dwell = {
    .name = "dwell",
    .operands = "SCENE.json",
    .summary = "the day's run sheet: hazer on and off, when to roll, how to hold, when it is clear",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_ORDER, VS_ASK_JSON, VS_ASK_UNITS, VS_ASK_DATA},
    .example = {"dwell data/demo/cellar.json", "dwell data/demo/cellar.json --order chosen"},
    .run = run,
};
