/* veilstop dwell: the day's plan for the hazer. */
#include "veilstop/report/dwell.h"
#include "cli/scene_args.h"
#include "veilstop/report/cautions.h"

/* What stands in the way of any plan, at its place in the file. */
static vs_exit fail_plan(const vs_cli_scene *scene, vs_status status, size_t culprit) {
    const vs_scene *s = scene->scene;
    if (culprit == VS_NONE && status == VS_ERR_DOMAIN) {
        return vs_cli_fail(VS_EXIT_INPUT,
                           "%s:/rooms: must be large enough for what passes through them: under a "
                           "million room volumes a second (got one that is not)",
                           scene->path);
    }
    if (culprit == VS_NONE) {
        return vs_cli_fail_status(status, scene->path);
    }
    const char *name = s->shot[culprit].name;
    size_t room = vs_dwell_room_at(s, s->camera[s->shot[culprit].camera].at_m);
    if (status == VS_ERR_UNREACHABLE) {
        return vs_cli_fail(VS_EXIT_INPUT,
                           "%s:/shots/%zu/camera: must stand in a room that haze can reach from "
                           "\"%s\" through openings (got one in \"%s\")",
                           scene->path, culprit, s->room[s->hazer.room].name, s->room[room].name);
    }
    if (status == VS_ERR_INPUT && s->shot[culprit].density == VS_DENSITY_OPEN) {
        return vs_cli_fail(VS_EXIT_INPUT,
                           "%s:/shots/%zu: %s has no density: give extinction_per_m, "
                           "mass_mg_per_m3 or visible_range_m",
                           scene->path, culprit, name);
    }
    if (status == VS_ERR_INPUT && s->hazer.room == VS_NONE) {
        return vs_cli_fail(VS_EXIT_INPUT, "%s:/hazer: must be given for the haze of %s (got none)",
                           scene->path, name);
    }
    if (status == VS_ERR_INPUT) {
        return vs_cli_fail(VS_EXIT_INPUT,
                           "%s:/fluid/nonvolatile_fraction: must be over 0 for the haze of %s "
                           "(got 0)",
                           scene->path, name);
    }
    return vs_cli_fail(VS_EXIT_INPUT,
                       "%s:/shots/%zu/minutes: must keep the day within 30 days (got more, up to "
                       "and with %s)",
                       scene->path, culprit, name);
}

static vs_exit print_json(const vs_cli_scene *scene, const vs_dwell *dwell, vs_text *out,
                          vs_exit code) {
    vs_json json;
    vs_json_begin(&json, out);
    vs_json_open_object(&json, NULL);
    vs_json_string(&json, "command", "dwell");
    vs_json_string(&json, "scene", vs_cli_scene_title(scene));
    vs_report_dwell_json(&json, scene->scene, dwell);
    vs_json_close_object(&json);
    vs_text_addf(out, "\n");
    return vs_cli_print_answer(out, &json, code);
}

static vs_exit print_plan(const vs_cli_args *args, const vs_cli_scene *scene,
                          const vs_dwell *dwell) {
    vs_exit code = vs_dwell_met(dwell) ? VS_EXIT_DONE : VS_EXIT_UNMET;
    vs_text out;
    vs_text_init(&out);
    if (vs_cli_flag(args, "json")) {
        code = print_json(scene, dwell, &out, code);
    } else {
        vs_text_addf(&out, "%s\n\n", vs_cli_scene_title(scene));
        vs_report_dwell_text(&out, &scene->style, scene->scene, dwell);
        vs_report_short_cautions(&out, scene->scene);
        code = vs_cli_print(&out, code);
    }
    vs_text_free(&out);
    return code;
}

static vs_exit plan(const vs_cli_args *args, const vs_cli_scene *scene, const vs_haze *haze) {
    vs_dwell dwell;
    vs_status status = vs_dwell_plan(scene->scene, haze, NULL, NULL, &dwell);
    if (status != VS_OK) {
        return fail_plan(scene, status, dwell.culprit);
    }
    vs_exit code = print_plan(args, scene, &dwell);
    vs_dwell_free(&dwell);
    return code;
}

static vs_exit run(const vs_cli_args *args) {
    vs_cli_scene scene;
    vs_exit code = vs_cli_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_haze haze;
    vs_status status = vs_haze_init(&haze, &scene.scene->fluid);
    if (status == VS_OK) {
        code = plan(args, &scene, &haze);
        vs_haze_free(&haze);
    } else {
        code = vs_cli_fail_status(status, scene.path);
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
    .option = {VS_CLI_JSON, VS_CLI_UNITS, VS_CLI_DATA},
    .run = run,
};
