/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop trust: a shot's prediction beside random walks of every order, on all cores. */
#include "veilstop/report/trust.h"
#include "ask/context.h"
#include "ask/day_plan.h"
#include "veilstop/shot/held.h"

#define WALKS_DEFAULT 200000.0 /* about 1 % of standard error in most scenes, in seconds */
#define SEED_DEFAULT  1.0

static void walk_chunk(void *context, size_t worker, size_t chunk) {
    (void)worker;
    vs_trust_run_chunk(context, chunk);
}

static vs_exit print(const vs_ask_args *args, const vs_ask_scene *scene, const vs_trust *trust) {
    const double *shown_per_m = trust->prediction.room_extinction_per_m;
    vs_ask_peaks day = vs_ask_shown_peaks(scene->scene, shown_per_m);
    if (!vs_ask_value(args, "extinction")) {
        vs_status status =
            vs_ask_day_peaks(scene->scene, &trust->predictor->haze, NULL, shown_per_m, &day);
        if (status != VS_OK) {
            return vs_ask_fail_status(status, scene->path);
        }
    }
    vs_cautions_peaks peaks = vs_ask_peaks_of(&day);
    vs_text text;
    vs_json json;
    vs_text_init(&text);
    vs_exit code = VS_EXIT_DONE;
    vs_json_begin(&json, &text);
    if (vs_ask_flag(args, "json")) {
        vs_ask_scene_head_json(&json, "trust", scene);
        vs_report_trust_json(&json, scene->scene, trust);
        vs_ask_scene_alarms(&json, scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&text, "\n");
    } else {
        vs_ask_scene_head(&text, scene);
        vs_text_addf(&text, "\n");
        vs_report_trust_text(&text, &scene->style, scene->scene, trust);
        code = vs_ask_scene_cautions(&text, scene, &peaks, code);
    }
    code = vs_ask_print_answer(&text, &json, code);
    vs_text_free(&text);
    return code;
}

static vs_exit fail(const vs_ask_scene *scene, const vs_trust *trust, vs_status status) {
    size_t room;
    if (status != VS_ERR_UNREACHABLE) {
        return vs_ask_fail_status(status, scene->path);
    }
    double depth = vs_trust_depth(scene->scene, trust->prediction.room_extinction_per_m, &room);
    return vs_ask_fail(VS_EXIT_INPUT,
                       "%s:/rooms/%zu: must have an optical depth of at most %g from corner to "
                       "corner for walks to end (got %.4g)",
                       scene->path, room, VS_TRUST_DEPTH_MAX, depth);
}

static vs_exit test_shot(const vs_ask_args *args, const vs_ask_scene *scene, size_t shot) {
    double walks = WALKS_DEFAULT, seed = SEED_DEFAULT, extinction_per_m;
    double room_extinction_per_m[VS_ROOMS_MAX];
    vs_predictor predictor = {0};
    vs_trust trust = {0};
    if (!vs_ask_number(args, "paths", VS_TRUST_WALKS_MIN, VS_TRUST_WALKS_MAX, &walks) ||
        !vs_ask_number(args, "seed", 0, 9007199254740991.0, &seed)) {
        return VS_EXIT_USAGE;
    }
    vs_exit code = vs_ask_scene_extinction(args, &extinction_per_m);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_status status = vs_ask_predictor_init(&predictor, scene);
    if (status == VS_OK) {
        status = vs_held_rooms(scene->scene, &scene->scene->shot[shot], &predictor.haze,
                               extinction_per_m, room_extinction_per_m);
    }
    if (status == VS_OK) {
        status =
            vs_trust_init(&trust, &predictor, shot, room_extinction_per_m, walks, (uint64_t)seed);
    }
    if (status == VS_OK) {
        vs_ask_each(vs_trust_chunk_count(&trust), "walking", walk_chunk, &trust);
        vs_trust_finish(&trust);
        code = print(args, scene, &trust);
    } else {
        code = fail(scene, &trust, status);
    }
    vs_trust_free(&trust);
    vs_ask_predictor_free(&predictor, scene);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    size_t first, end;
    vs_exit code = vs_ask_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    code = vs_ask_scene_shots(args, &scene, &first, &end);
    if (code == VS_EXIT_DONE && end - first != 1) {
        code = vs_ask_fail(VS_EXIT_USAGE, "trust: needs --shot NAME: one shot at a time");
    }
    if (code == VS_EXIT_DONE && !vs_ask_value(args, "extinction")) {
        code = vs_ask_scene_fill_densities(&scene, first);
    }
    if (code == VS_EXIT_DONE) {
        code = test_shot(args, &scene, first);
    }
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_trust = {
    .name = "trust",
    .operands = "SCENE.json",
    .summary = "a shot's figures beside random walks with all room bounce",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHOT,
               {"paths", "N", "random walks a point and beam (default 200000)"},
               {"seed", "N", "start of the random numbers: same seed, same figures (default 1)"},
               VS_ASK_EXTINCTION,
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"trust data/demo/cellar.json --shot \"1 wide\"",
                "trust data/demo/cellar.json --shot \"1 wide\" --paths 20000"},
    .run = run,
};
