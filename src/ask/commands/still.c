/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The camera of a photo, without its pixels: the answer of `still` to --match for a front end that
 * shows the photo itself. */
#include <stdlib.h>

#include "ask/match.h"

static vs_exit answer(const vs_ask_args *args, const vs_ask_scene *scene,
                      const vs_report_match *match) {
    vs_text out;
    vs_json json;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json") || vs_ask_flag(args, "csv")) {
        vs_ask_scene_head_json(&json, "still", scene);
        vs_report_match_json(&json, match);
        vs_json_close_object(&json);
        vs_text_addf(&out, "\n");
    } else {
        vs_ask_scene_head(&out, scene);
        vs_report_match_text(&out, &scene->style, match);
        vs_report_short_cautions(&out, scene->scene);
    }
    vs_exit code = vs_ask_print_answer(&out, &json, VS_EXIT_DONE);
    vs_text_free(&out);
    return code;
}

/* "WxH" */
static vs_exit read_size(const vs_ask_args *args, size_t *width, size_t *height) {
    const char *text = vs_ask_value(args, "size");
    double w = 0, h = 0;
    size_t first = text ? vs_number_parse(text, &w) : 0;
    size_t second = first && text[first] == 'x' ? vs_number_parse(text + first + 1, &h) : 0;
    if (!second || text[first + 1 + second] || !(w >= 1 && w <= 1e6 && h >= 1 && h <= 1e6)) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--size: must be the photo's WxH in pixels, such as 4032x3024 (got %s)",
                           text ? text : "none");
    }
    *width = (size_t)w;
    *height = (size_t)h;
    return VS_EXIT_DONE;
}

static vs_exit write_scene(const vs_ask_args *args, const vs_ask_scene *scene,
                           const vs_report_match *match) {
    vs_ask_edits edits;
    if (!vs_ask_edits_init(&edits, VS_ASK_MATCH_EDITS)) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "still");
    }
    vs_ask_match_edits(scene, match, &edits);
    vs_exit code = vs_ask_scene_write(args, scene, edits.edit, edits.count,
                                      "the scene with the photo's camera");
    vs_ask_edits_free(&edits);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    size_t shot = 0, width = 0, height = 0;
    vs_exit code = vs_ask_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_report_match *match = malloc(sizeof *match);
    code =
        match ? vs_ask_one_shot(args, &scene, &shot) : vs_ask_fail_status(VS_ERR_MEMORY, "still");
    if (code == VS_EXIT_DONE) {
        code = read_size(args, &width, &height);
    }
    if (code == VS_EXIT_DONE && !vs_ask_value(args, "match")) {
        code = vs_ask_fail(VS_EXIT_USAGE, "still: needs --match PAIRS");
    }
    if (code == VS_EXIT_DONE) {
        code = vs_ask_match_read(args, &scene, shot, width, height, match);
    }
    if (code == VS_EXIT_DONE && vs_ask_value(args, "write")) {
        code = write_scene(args, &scene, match);
    }
    if (code == VS_EXIT_DONE) {
        code = answer(args, &scene, match);
    }
    free(match);
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_ask_command_still = {
    .name = "still",
    .operands = "SCENE.json",
    .summary = "where a photo was taken from, by pixels and places",
    .operand_min = 1,
    .operand_max = 1,
    .option = {{"shot", "NAME", "whose camera"},
               VS_ASK_MATCH,
               {"size", "WxH", "pixels of the photo"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .many_shots = true,
    .run = run,
};
