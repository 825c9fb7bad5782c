/* veilstop dwell: the day's plan for the hazer. */
#include "veilstop/report/dwell.h"

#include <string.h>

#include "cli/day_plan.h"

static vs_exit print_json(const vs_cli_scene *scene, const vs_dwell *dwell, vs_text *out,
                          vs_exit code) {
    vs_json json;
    vs_json_begin(&json, out);
    vs_cli_scene_head_json(&json, "dwell", scene);
    vs_report_dwell_json(&json, scene->scene, dwell);
    vs_json_close_object(&json);
    vs_text_addf(out, "\n");
    return vs_cli_print_answer(out, &json, code);
}

/* The cautions of the day's peaks. */
static void add_cautions(vs_text *out, const vs_cli_scene *scene, const vs_dwell *dwell) {
    double peak_per_m[VS_ROOMS_MAX];
    for (size_t room = 0; room < dwell->room_count; room++) {
        peak_per_m[room] = dwell->room[room].peak_g_per_m3 * dwell->extinction_m2_per_g;
    }
    vs_cli_scene_cautions(out, scene, peak_per_m);
}

static vs_exit print_plan(const vs_cli_args *args, const vs_cli_scene *scene,
                          const vs_dwell *dwell) {
    vs_exit code = vs_dwell_met(dwell) ? VS_EXIT_DONE : VS_EXIT_UNMET;
    vs_text out;
    vs_text_init(&out);
    if (vs_cli_flag(args, "json")) {
        code = print_json(scene, dwell, &out, code);
    } else {
        vs_cli_scene_head(&out, scene);
        vs_text_addf(&out, "\n");
        vs_report_dwell_text(&out, &scene->style, scene->scene, dwell);
        add_cautions(&out, scene, dwell);
        code = vs_cli_print(&out, code);
    }
    vs_text_free(&out);
    return code;
}

static vs_exit plan(const vs_cli_args *args, const vs_cli_scene *scene, const vs_haze *haze) {
    vs_dwell dwell;
    const char *order = vs_cli_value(args, "order");
    bool chosen = order && strcmp(order, "chosen") == 0;
    if (order && !chosen && strcmp(order, "file") != 0) {
        return vs_cli_fail(VS_EXIT_USAGE, "--order: must be file or chosen (got %s)", order);
    }
    vs_exit code =
        chosen ? vs_cli_day_plan_chosen(scene, haze, &dwell) : vs_cli_day_plan(scene, haze, &dwell);
    if (code == VS_EXIT_DONE) {
        code = print_plan(args, scene, &dwell);
        vs_dwell_free(&dwell);
    }
    return code;
}

static vs_exit run(const vs_cli_args *args) {
    vs_cli_scene scene;
    vs_exit code = vs_cli_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_haze haze;
    vs_status status = VS_OK;
    code = vs_cli_scene_decide(&scene, VS_NONE);
    if (code == VS_EXIT_DONE) {
        status = vs_haze_init(&haze, &scene.scene->fluid);
    }
    if (status != VS_OK) {
        code = vs_cli_fail_status(status, scene.path);
    } else if (code == VS_EXIT_DONE) {
        code = plan(args, &scene, &haze);
        vs_haze_free(&haze);
    }
    vs_cli_scene_close(&scene);
    return code;
}

const vs_cli_command vs_cli_dwell = {
    .name = "dwell",
    .operands = "SCENE.json",
    .summary = "haze over the day: how long to run the hazer, when to roll, how to hold",
    .operand_min = 1,
    .operand_max = 1,
    .option = {{"order", "file|chosen", "the shots as the file has them, or as choose orders them"},
               VS_CLI_JSON,
               VS_CLI_UNITS,
               VS_CLI_DATA},
    .example = {"dwell data/demo/cellar.json", "dwell data/demo/cellar.json --order chosen"},
    .run = run,
};
