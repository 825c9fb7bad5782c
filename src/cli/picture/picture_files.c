/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of `picture`: PNG for display, EXR with everything for the grade. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "cli/photo.h"
#include "cli/picture/picture.h"
#include "veilstop/picture/exr.h"

#define NAME_SIZE 32    /* [bytes] of a channel's name: accepted by every reader */
#define LAYER_MAX 18    /* letters of a light's layer */
#define FAR_M     1e10f /* [m] depth of the outside: usual in compositing */

char *vs_cli_picture_numbered(const char *path, size_t number, size_t count) {
    const char *slash = strrchr(path, '/'), *dot = strrchr(path, '.');
    size_t stem = dot && dot > (slash ? slash + 1 : path) ? (size_t)(dot - path) : strlen(path);
    int digits = snprintf(NULL, 0, "%zu", count);
    size_t size = strlen(path) + 24;
    char *name = malloc(size);
    if (name) {
        snprintf(name, size, "%.*s-%0*zu%s", (int)stem, path, digits < 4 ? 4 : digits, number,
                 path + stem);
    }
    return name;
}

vs_exit vs_cli_picture_write_png(const char *path, const vs_picture *picture,
                                 const vs_camera *camera, vs_develop_as as) {
    vs_png_colour colour = vs_develop_colour(camera, as);
    return vs_cli_photo_write(path, picture, &colour);
}

bool vs_cli_picture_is_animation(const char *path) {
    const char *dot = path ? strrchr(path, '.') : NULL;
    return dot && strcmp(dot, ".apng") == 0;
}

vs_exit vs_cli_picture_write_apng(const char *path, vs_apng *apng) {
    unsigned char *bytes;
    size_t length;
    vs_status status = vs_apng_end(apng, &bytes, &length);
    return vs_cli_write_made(path, status, bytes, length);
}

/* Channels being collected, with their own names and planes. */
typedef struct {
    vs_exr_channel *channel;
    char (*name)[NAME_SIZE];
    float *memory;
    size_t count, size, pixels;
} channels;

static vs_status begin(channels *c, size_t size, size_t pixels) {
    c->count = 0;
    c->size = size;
    c->pixels = pixels;
    c->channel = calloc(size, sizeof *c->channel);
    c->name = calloc(size, sizeof *c->name);
    c->memory = malloc(size * pixels * sizeof *c->memory);
    return c->channel && c->name && c->memory ? VS_OK : VS_ERR_MEMORY;
}

static void end(channels *c) {
    free(c->channel);
    free(c->name);
    free(c->memory);
}

static float *add(channels *c, const char *layer, const char *letter, bool whole) {
    float *plane = c->memory + c->count * c->pixels;
    snprintf(c->name[c->count], NAME_SIZE, "%s%s%s", layer, *layer ? "." : "", letter);
    c->channel[c->count].name = c->name[c->count];
    c->channel[c->count].plane = plane;
    c->channel[c->count++].whole = whole;
    return plane;
}

static void add_plane(channels *c, const char *layer, const vs_frame_plane *plane, double scale) {
    static const char *const letter[VS_BAND_COUNT] = {"R", "G", "B"};
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float *out = add(c, layer, letter[band], false);
        for (size_t i = 0; i < c->pixels; i++) {
            out[i] = plane->band[band][i] * (float)scale;
        }
    }
}

static void add_depth(channels *c, const float *depth_m) {
    float *out = add(c, "", "Z", true);
    for (size_t i = 0; i < c->pixels; i++) {
        out[i] = isfinite(depth_m[i]) ? depth_m[i] : FAR_M;
    }
}

/* A light's name in characters allowed in channel names. */
static void plain_name(const char *name, char plain[LAYER_MAX + 1]) {
    size_t n = 0;
    for (; *name && n < LAYER_MAX; name++) {
        plain[n++] = isalnum((unsigned char)*name) ? *name : '_';
    }
    plain[n] = '\0';
}

/* "veil." and that name, with the light's number if an earlier one has the same. */
static void layer_of(const vs_scene *scene, size_t light, char layer[NAME_SIZE]) {
    char plain[LAYER_MAX + 1], other[LAYER_MAX + 1];
    bool taken = false;
    plain_name(scene->light[light].name, plain);
    for (size_t i = 0; i < light; i++) {
        plain_name(scene->light[i].name, other);
        taken = taken || strcmp(plain, other) == 0;
    }
    if (taken) {
        snprintf(layer, NAME_SIZE, "veil.%.*s_%u", LAYER_MAX - 4, plain, (unsigned)light % 1000);
    } else {
        snprintf(layer, NAME_SIZE, "veil.%s", plain);
    }
}

static void add_by_light(channels *c, const vs_frame_layers *l, const vs_scene *scene,
                         double scale) {
    for (size_t i = 0; i < scene->light_count; i++) {
        char layer[NAME_SIZE];
        if (l->veil_by_light[i].band[0]) {
            layer_of(scene, i, layer);
            add_plane(c, layer, &l->veil_by_light[i], scale);
        }
    }
}

vs_exit vs_cli_picture_write_exr(const char *path, vs_frame *frame, const vs_scene *scene,
                                 const vs_camera *camera, const double *room_extinction_per_m) {
    const double clear[VS_ROOMS_MAX] = {0};
    double scale = vs_camera_linear(camera, 1);
    vs_frame_layers l;
    channels c = {0};
    vs_status status = vs_frame_render(frame, room_extinction_per_m, VS_FRAME_FINE, true, &l);
    size_t width = l.width, height = l.height, size = VS_BAND_COUNT * (5 + scene->light_count) + 1;
    if (status == VS_OK) {
        status = begin(&c, size, width * height);
    }
    if (status == VS_OK) {
        add_plane(&c, "", &l.hazed, scale);
        add_plane(&c, "veil", &l.veil, scale);
        add_plane(&c, "T", &l.transmission, 1);
        add_plane(&c, "veil.indirect", &l.indirect, scale);
        add_by_light(&c, &l, scene, scale);
        add_depth(&c, l.depth_m);
        status = vs_frame_render(frame, clear, VS_FRAME_FINE, false, &l);
    }
    if (status == VS_OK) {
        add_plane(&c, "clear", &l.hazed, scale);
    }
    unsigned char *bytes = NULL;
    size_t length = 0;
    if (status == VS_OK) {
        status = vs_exr_write(c.channel, c.count, width, height,
                              "scene-linear, BT.709 primaries, 0.18 = middle grey; Z in metres "
                              "square to the picture, 1e10 outside",
                              &bytes, &length);
    }
    end(&c);
    return vs_cli_write_made(path, status, bytes, length);
}
