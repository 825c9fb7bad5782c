/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The options of `picture`. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ask/places.h"
#include "cli/picture/picture.h"
#include "veilstop/base/units.h"
#include "veilstop/scene/json.h"

#define WIDTH_ALONE   1280.0 /* [pixels] of a single picture: our choice */
#define WIDTH_OF_MANY 640.0  /* [pixels] of each of several */

static vs_exit fail_size(const char *got) {
    return vs_ask_fail(VS_EXIT_USAGE,
                       "--size: must be WxH, each from %u to %u pixels, together at most %u (got "
                       "%s)",
                       VS_FRAME_SIDE_MIN, VS_FRAME_SIDE_MAX, VS_FRAME_PIXELS_MAX, got);
}

/* Digits only. */
static const char *read_count(const char *text, size_t *count) {
    *count = 0;
    size_t digits = strspn(text, "0123456789");
    for (size_t i = 0; i < digits && *count <= VS_FRAME_SIDE_MAX; i++) {
        *count = *count * 10 + (size_t)(text[i] - '0');
    }
    return text + digits;
}

static vs_exit read_size(const vs_ask_args *args, const vs_camera *camera, size_t tiles,
                         vs_cli_picture_order *order) {
    const char *text = vs_ask_value(args, "size");
    if (!text) {
        double width = tiles > 1 ? WIDTH_OF_MANY : WIDTH_ALONE;
        double height = round(width * camera->sensor_height_m / camera->sensor_width_m);
        order->width = (size_t)width;
        order->height = (size_t)fmin(fmax(height, VS_FRAME_SIDE_MIN), VS_FRAME_SIDE_MAX);
        return VS_EXIT_DONE;
    }
    const char *rest = read_count(text, &order->width);
    if (*rest != 'x') {
        return fail_size(text);
    }
    rest = read_count(rest + 1, &order->height);
    size_t w = order->width, h = order->height;
    bool good = !*rest && w >= VS_FRAME_SIDE_MIN && h >= VS_FRAME_SIDE_MIN &&
                w <= VS_FRAME_SIDE_MAX && h <= VS_FRAME_SIDE_MAX && w * h <= VS_FRAME_PIXELS_MAX;
    return good ? VS_EXIT_DONE : fail_size(text);
}

static vs_exit read_form(const vs_ask_args *args, vs_cli_picture_order *order) {
    static const char *const name[] = {"display", "log", "linear"};
    const char *as = vs_ask_value(args, "as"), *bits = vs_ask_value(args, "bits");
    size_t k = 0;
    while (as && k < 3 && strcmp(as, name[k]) != 0) {
        k++;
    }
    if (k == 3) {
        return vs_ask_fail(VS_EXIT_USAGE, "--as: must be display, log or linear (got %s)", as);
    }
    order->as = (vs_develop_as)k;
    order->bits = order->as == VS_DEVELOP_DISPLAY ? 8 : 16;
    if (bits && strcmp(bits, "8") != 0 && strcmp(bits, "16") != 0) {
        return vs_ask_fail(VS_EXIT_USAGE, "--bits: must be 8 or 16 (got %s)", bits);
    }
    if (bits && order->as == VS_DEVELOP_LINEAR && strcmp(bits, "8") == 0) {
        return vs_ask_fail(VS_EXIT_USAGE, "--bits: must be 16 with --as linear (got 8)");
    }
    order->bits = !bits ? order->bits : strcmp(bits, "8") == 0 ? 8 : 16;
    return VS_EXIT_DONE;
}

static vs_exit read_files(const vs_ask_args *args, size_t tiles, vs_cli_picture_order *order) {
    order->out = vs_ask_value(args, "out");
    order->exr = vs_ask_value(args, "exr");
    if (!order->out && !order->exr) {
        return vs_ask_fail(VS_EXIT_USAGE, "picture: needs --out FILE.png, or --exr FILE.exr");
    }
    if (order->exr && tiles > 1) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--exr: needs one shot at one density: give --shot once "
                           "(got %zu pictures)",
                           tiles);
    }
    return VS_EXIT_DONE;
}

static size_t find_light(const vs_scene *scene, const char *name, size_t length) {
    for (size_t i = 0; i < scene->light_count; i++) {
        if (strlen(scene->light[i].name) == length &&
            strncmp(scene->light[i].name, name, length) == 0 && !scene->light[i].is_part) {
            return i;
        }
    }
    return VS_NONE;
}

static vs_exit fail_light(const vs_ask_scene *scene, const char *text, size_t length) {
    const char *names[256];
    size_t count = 0;
    char name[128];
    snprintf(name, sizeof name, "%.*s", (int)length, text);
    while (count < scene->scene->light_count && count < sizeof names / sizeof *names) {
        names[count] = scene->scene->light[count].name;
        count++;
    }
    const char *near = vs_json_nearest(name, names, count);
    return vs_ask_fail(VS_EXIT_USAGE, "--move: %s has no light named %s%s%s", scene->path, name,
                       near ? "; did you mean " : "", near ? near : "");
}

static vs_exit read_move(const vs_ask_args *args, const vs_ask_scene *scene, size_t tiles,
                         vs_cli_picture_order *order) {
    const char *text = vs_ask_value(args, "move"), *along = text ? strstr(text, ":along ") : NULL;
    double frames = 1;
    order->light = VS_NONE;
    order->frames = 1;
    if (!vs_ask_number(args, "frames", 2, VS_CLI_FRAMES_MAX, &frames)) {
        return VS_EXIT_USAGE;
    }
    if (!text && frames == 1) {
        return VS_EXIT_DONE;
    }
    if (!text || frames == 1) {
        return vs_ask_fail(VS_EXIT_USAGE, "--%s: needs --%s beside it", text ? "move" : "frames",
                           text ? "frames N" : "move \"LIGHT:along X,Y,Z\"");
    }
    if (!along ||
        !vs_ask_position_read(along + strlen(":along "), scene->style.units, &order->along_m)) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--move: must be a light, \":along \" and three lengths, such as \"torch"
                           ":along 2,0.5,0\" (got %s)",
                           text);
    }
    order->light = find_light(scene->scene, text, (size_t)(along - text));
    if (order->light == VS_NONE) {
        return fail_light(scene, text, (size_t)(along - text));
    }
    vs_light_kind kind = scene->scene->light[order->light].kind;
    if (kind == VS_LIGHT_SUN || kind == VS_LIGHT_SKY) {
        return vs_ask_fail(VS_EXIT_USAGE, "--move: must be a lamp that can be carried (got a %s)",
                           kind == VS_LIGHT_SUN ? "sun" : "sky");
    }
    if (frames != floor(frames)) {
        return vs_ask_fail(VS_EXIT_USAGE, "--frames: must be a whole number (got %g)", frames);
    }
    if (tiles > 1) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--move: needs one shot at one density: give --shot once "
                           "(got %zu pictures)",
                           tiles);
    }
    order->frames = (size_t)frames;
    return VS_EXIT_DONE;
}

vs_exit vs_cli_picture_order_read(const vs_ask_args *args, const vs_ask_scene *scene,
                                  const vs_camera *camera, size_t tiles,
                                  vs_cli_picture_order *order) {
    vs_exit code = read_size(args, camera, tiles, order);
    if (code == VS_EXIT_DONE) {
        code = read_form(args, order);
    }
    if (code == VS_EXIT_DONE) {
        code = read_files(args, tiles, order);
    }
    return code == VS_EXIT_DONE ? read_move(args, scene, tiles, order) : code;
}
