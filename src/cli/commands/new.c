/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop new: a small scene that runs, to be adapted. The scenes are in data/new, with positions
 * as shares of the room: {x 0.25} is a quarter of its length along x. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "ask/scene_args.h"
#include "cli/cli.h"
#include "veilstop/scene/data.h"
#include "veilstop/scene/json.h"
#include "veilstop/scene/scene_file.h"

#define SIDE_MIN_M   2.0   /* [m] enough for a camera and its light: our choice */
#define HEIGHT_MIN_M 2.2   /* [m] over a camera at eye height: our choice */
#define SIDE_MAX_M   200.0 /* [m] our choice */

/* The kinds, and their default sizes [m]. */
static const struct {
    const char *name;
    double size_m[3];
} kind[] = {{"room", {6, 4, 2.6}},
            {"corridor", {14, 2, 2.6}},
            {"church", {28, 12, 11}},
            {"night-street", {40, 12, 9}}};
enum { KINDS = sizeof kind / sizeof kind[0] };

static vs_exit find_kind(const vs_ask_args *args, size_t *found) {
    const char *name = vs_ask_value(args, "from"), *names[KINDS];
    *found = 0;
    for (size_t i = 0; i < KINDS; i++) {
        names[i] = kind[i].name;
        if (name && strcmp(name, kind[i].name) == 0) {
            *found = i;
            return VS_EXIT_DONE;
        }
    }
    const char *near = name ? vs_json_nearest(name, names, KINDS) : NULL;
    return name ? vs_ask_fail(VS_EXIT_USAGE,
                              "--from: must be room, corridor, church or night-street%s%s (got %s)",
                              near ? "; did you mean " : "", near ? near : "", name)
                : VS_EXIT_DONE;
}

/* "6x4x2.6" or "20ftx13ftx8ft": a number follows --units. */
static bool read_size(const char *text, vs_length_unit units, double size_m[3]) {
    for (int i = 0; i < 3; i++) {
        char number[32];
        size_t length = strcspn(text, "x");
        if (length == 0 || length >= sizeof number || (i < 2) != (text[length] == 'x')) {
            return false;
        }
        snprintf(number, sizeof number, "%.*s", (int)length, text);
        size_t used = vs_number_parse(number, &size_m[i]);
        if (used > 0 && !number[used]) {
            size_m[i] *= vs_length_unit_m(units);
        } else if (vs_length_parse(number, &size_m[i]) != VS_OK) {
            return false;
        }
        double least_m = i == 2 ? HEIGHT_MIN_M : SIDE_MIN_M;
        if (!(size_m[i] >= least_m && size_m[i] <= SIDE_MAX_M)) {
            return false;
        }
        text += length + (i < 2);
    }
    return true;
}

/* Writes "{x 0.25}" as a quarter of the length along x, to the centimetre. Returns the characters
 * read. */
static size_t fill_place(vs_text *out, const char *at, const double size_m[3]) {
    double share;
    size_t axis = at[1] == 'x' ? 0 : at[1] == 'y' ? 1 : at[1] == 'z' ? 2 : 3;
    size_t used = axis < 3 && at[2] == ' ' ? vs_number_parse(at + 3, &share) : 0;
    if (used == 0 || at[3 + used] != '}') {
        return 0;
    }
    vs_text_addf(out, "%.6g", round(100 * share * size_m[axis]) / 100);
    return 3 + used + 1;
}

static void fill(vs_text *out, const vs_data *data, const double size_m[3]) {
    for (const char *at = data->bytes; *at;) {
        size_t read = *at == '{' ? fill_place(out, at, size_m) : 0;
        if (read == 0) {
            vs_text_add(out, at, 1);
            read = 1;
        }
        at += read;
    }
}

/* Writes to the file named, which must not exist, or to standard output. */
static vs_exit write_out(const vs_ask_args *args, const vs_text *scene) {
    const char *path = args->operand_count > 0 ? args->operand[0] : NULL;
    if (!path) {
        return vs_ask_print(scene, VS_EXIT_DONE);
    }
    if (access(path, F_OK) == 0) {
        return vs_ask_fail(VS_EXIT_FILE, "%s: must be a new file (got one that is there)", path);
    }
    vs_exit code = vs_cli_write(path, scene->bytes, scene->length);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words, "wrote %s; next: veilstop predict %s, then change it into your own\n",
                 path, path);
    code = vs_ask_print(&words, VS_EXIT_DONE);
    vs_text_free(&words);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_length_unit units = VS_LENGTH_M;
    size_t which;
    vs_exit code = vs_ask_units(args, &units) ? find_kind(args, &which) : VS_EXIT_USAGE;
    if (code != VS_EXIT_DONE) {
        return code;
    }
    double size_m[3] = {kind[which].size_m[0], kind[which].size_m[1], kind[which].size_m[2]};
    const char *room = vs_ask_value(args, "room");
    if (room && !read_size(room, units, size_m)) {
        return vs_ask_fail(
            VS_EXIT_USAGE,
            "--room: must be three lengths such as 6x4x2.6, sides 2 to 200 m, height "
            "2.2 to 200 m (got %s)",
            room);
    }
    char name[64];
    vs_data data;
    snprintf(name, sizeof name, "new/%s.json", kind[which].name);
    vs_status status = vs_data_init(&data, NULL, name, NULL);
    if (status == VS_OK) {
        vs_text scene;
        vs_text_init(&scene);
        fill(&scene, &data, size_m);
        code = scene.failed ? vs_ask_fail_status(VS_ERR_MEMORY, "new") : write_out(args, &scene);
        vs_text_free(&scene);
    } else {
        code = vs_ask_fail_status(status, name);
    }
    vs_data_free(&data);
    return code;
}

const vs_ask_command vs_cli_new = {
    .name = "new",
    .operands = "[FILE.json]",
    .summary = "a small scene that runs, to be changed into your own",
    .operand_min = 0,
    .operand_max = 1,
    .option = {{"room", "XxYxZ", "its size, such as 6x4x2.6 or 20ftx13ftx8ft"},
               {"from", "KIND", "room, corridor, church or night-street (default room)"},
               VS_ASK_UNITS},
    .example = {"new my-scene.json --room 6x4x2.6", "new street.json --from night-street"},
    .run = run,
};
