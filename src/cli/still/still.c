/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop still: the planned haze in a photo from the scout. */
#include "cli/still/still_points.h"

#include <stdlib.h>

#include "ask/scene_write.h"

static bool asked(const vs_cli_still *s, const char *option) {
    return vs_ask_value(s->args, option) != NULL;
}

/* Which options go together. */
static vs_exit check_options(const vs_cli_still *s) {
    static const char *const density[] = {"extinction", "visibility", "mass", "haze"};
    static const char *const of_haze[] = {"depth", "depth-scale"};
    bool drawn = asked(s, "out") || asked(s, "exr"), read = asked(s, "read-points");
    if (!drawn && !read && !asked(s, "overlay") && !asked(s, "match") && !asked(s, "hazed")) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "still: needs --out FILE.png or --exr FILE.exr, --match PAIRS, "
                           "--read-points or --hazed PHOTO2.png");
    }
    for (size_t i = 0; i < sizeof density / sizeof *density && !drawn && !asked(s, "hazed"); i++) {
        if (asked(s, density[i])) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: needs --out FILE.png or --exr FILE.exr",
                               density[i]);
        }
    }
    for (size_t i = 0; i < sizeof of_haze / sizeof *of_haze && !drawn; i++) {
        if (asked(s, of_haze[i])) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: needs --out FILE.png or --exr FILE.exr",
                               of_haze[i]);
        }
    }
    if (asked(s, "focal") && !asked(s, "match")) {
        return vs_ask_fail(VS_EXIT_USAGE, "--focal: needs --match PAIRS");
    }
    if (asked(s, "write") && !asked(s, "match") && !read) {
        return vs_ask_fail(VS_EXIT_USAGE, "--write: needs --match PAIRS or --read-points");
    }
    return VS_EXIT_DONE;
}

static vs_exit find_camera(vs_cli_still *s) {
    const vs_scene *scene = s->scene.scene;
    s->camera = scene->camera[scene->shot[s->shot].camera];
    if (!asked(s, "match")) {
        return VS_EXIT_DONE;
    }
    s->match = malloc(sizeof *s->match);
    if (!s->match) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "still");
    }
    vs_exit code = vs_ask_match_read(s->args, &s->scene, s->shot, s->photo.size.width,
                                     s->photo.size.height, s->match);
    s->camera = s->match->camera;
    return code;
}

/* The scene with the camera and the points' light. */
static vs_exit write_scene(const vs_cli_still *s) {
    size_t points =
        s->point && asked(s, "read-points") ? s->scene.scene->shot[s->shot].point_count : 0;
    const vs_scene_point *point = s->scene.scene->shot[s->shot].point;
    vs_ask_edits edits;
    if (!vs_ask_edits_init(&edits, points + VS_ASK_MATCH_EDITS)) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "still");
    }
    if (s->match) {
        vs_ask_match_edits(&s->scene, s->match, &edits);
    }
    for (size_t i = 0; i < points; i++) {
        if (point[i].kind == VS_POINT_NITS && !s->point[i].why) {
            vs_ask_edits_add(&edits, s->point[i].nits, "/shots/%zu/points/%zu/nits", s->shot, i);
        }
    }
    vs_exit code = edits.count > 0
                       ? vs_ask_scene_write(s->args, &s->scene, edits.edit, edits.count,
                                            "the scene with the photo's figures")
                       : vs_ask_fail(VS_EXIT_INPUT,
                                     "%s:/shots/%zu/points: must have a point with nits that the "
                                     "photo shows, to be written (got none)",
                                     s->scene.path, s->shot);
    vs_ask_edits_free(&edits);
    return code;
}

static vs_exit work(vs_cli_still *s) {
    vs_exit code = vs_ask_one_shot(s->args, &s->scene, &s->shot);
    if (code == VS_EXIT_DONE) {
        code = check_options(s);
    }
    if (code == VS_EXIT_DONE) {
        code = vs_cli_still_read_photo(s);
    }
    if (code == VS_EXIT_DONE) {
        code = find_camera(s);
    }
    if (code == VS_EXIT_DONE && (asked(s, "out") || asked(s, "exr") || asked(s, "hazed"))) {
        code = vs_cli_still_densities(s);
    }
    if (code == VS_EXIT_DONE && (asked(s, "read-points") || asked(s, "hazed"))) {
        code = vs_cli_still_read_points(s);
    }
    if (code == VS_EXIT_DONE && asked(s, "hazed")) {
        code = vs_cli_still_read_haze(s);
    }
    if (code == VS_EXIT_DONE) {
        code = vs_cli_still_draw(s);
    }
    if (code == VS_EXIT_DONE && asked(s, "write")) {
        code = write_scene(s);
    }
    return code == VS_EXIT_DONE ? vs_cli_still_print(s) : code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_cli_still *s = calloc(1, sizeof *s);
    if (!s) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "still");
    }
    s->args = args;
    vs_exit code = vs_ask_scene_open(args, 1, &s->scene);
    if (code == VS_EXIT_DONE) {
        code = work(s);
        vs_ask_scene_close(&s->scene);
    }
    vs_picture_free(&s->photo.picture);
    free(s->match);
    free(s->point);
    free(s->room_extinction_per_m);
    free(s->thickest_per_m);
    free(s);
    return code;
}

const vs_ask_command vs_cli_still_command = {
    .name = "still",
    .operands = "PHOTO.png SCENE.json",
    .summary = "the planned haze in a photo from the scout, and where that was taken from",
    .operand_min = 2,
    .operand_max = 2,
    .option = {{"shot", "NAME", "whose camera, lamps and haze"},
               VS_ASK_DENSITY_OPTIONS,
               {"out", "FILE.png", "the photo in that haze, or a sheet of several densities"},
               {"exr", "FILE.exr", "scene-linear layers at one density, for the grade"},
               VS_ASK_MATCH,
               {"overlay", "FILE.png",
                "the rooms' edges over the photo, to check its camera by eye"},
               {"read-points", NULL, "light of the shot's points, by the patch of --grey"},
               {"hazed", "PHOTO2.png", "the same framing in haze: how thick it is, by the points"},
               {"grey", "X,Y[=NITS]", "pixel of a grey card, or of a patch that was metered"},
               {"curve", "NAME", "of the photo's code values (default: what the file says)"},
               {"depth", "D.png",
                "distances of its own, 16 bit; the nearer of it and the rooms counts"},
               {"depth-scale", "M", "metres of one count of it"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"still scout.png cellar.json --shot \"1 wide\" --haze thin,heavy --out sheet.png",
                "still scout.png cellar.json --shot \"1 wide\" --hazed now.png"},
    .many_shots = true,
    .run = run,
};
