/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pictures of `still`: haze over the photo, one tile a density; the rooms' edges over it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/cli.h"
#include "cli/picture/picture.h"
#include "cli/still/still.h"
#include "veilstop/picture/exr.h"
#include "veilstop/shot/held.h"

#define CAPTION_SIGNAL 0.75  /* [1] grey of the letters: our choice */
#define FAR_M          1e10f /* [m] depth of what is outside: usual for compositing */
#define SCALE_MOST_M   10.0  /* [m] of one count of a map of depth; our choice */

vs_exit vs_cli_still_densities(vs_cli_still *s) {
    const vs_scene *scene = s->scene.scene;
    vs_exit code = vs_ask_densities_read(s->args, s->scene.style.units, &s->densities);
    if (code == VS_EXIT_DONE && s->densities.count == 0) {
        code = vs_ask_scene_fill_densities(&s->scene, s->shot);
        scene = s->scene.scene;
    }
    if (code != VS_EXIT_DONE) {
        return code;
    }
    s->count = s->densities.count > 0 ? s->densities.count : 1;
    s->room_extinction_per_m = calloc(s->count * scene->room_count, sizeof(double));
    s->thickest_per_m = calloc(scene->room_count, sizeof(double));
    vs_haze haze;
    if (!s->room_extinction_per_m || !s->thickest_per_m) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "still");
    }
    vs_status status = vs_haze_init(&haze, &scene->fluid);
    if (status != VS_OK) {
        return vs_ask_fail_status(status, s->scene.path);
    }
    size_t room = 0;
    for (size_t i = 0; i < scene->room_count; i++) {
        vs_vec3 d = vs_vec3_sub(s->camera.at_m, scene->room[i].corner_m);
        vs_vec3 size = scene->room[i].size_m;
        bool inside =
            d.x >= 0 && d.y >= 0 && d.z >= 0 && d.x <= size.x && d.y <= size.y && d.z <= size.z;
        room = inside ? i : room;
    }
    for (size_t i = 0; i < s->count && status == VS_OK; i++) {
        double *rooms = s->room_extinction_per_m + i * scene->room_count;
        double k = s->densities.count > 0 ? vs_ask_density_per_m(&s->densities.item[i], &haze)
                                          : (double)NAN;
        status = vs_held_rooms(scene, &scene->shot[s->shot], &haze, k, rooms);
        for (size_t r = 0; r < scene->room_count && status == VS_OK; r++) {
            s->thickest_per_m[r] = fmax(s->thickest_per_m[r], rooms[r]);
        }
        s->density[i] = vs_density_of(status == VS_OK ? rooms[room] : 0, &haze);
    }
    vs_haze_free(&haze);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, s->scene.path);
}

/* ---- a map of depth ---- */

typedef struct {
    vs_picture map;
    vs_still_depth depth;
    bool given;
} depth_map;

static vs_exit read_depth(const vs_cli_still *s, depth_map *d) {
    const char *path = vs_ask_value(s->args, "depth");
    vs_png_size size;
    d->given = path != NULL;
    if (!path != !vs_ask_value(s->args, "depth-scale")) {
        return vs_ask_fail(VS_EXIT_USAGE, "--%s: needs --%s beside it",
                           path ? "depth" : "depth-scale", path ? "depth-scale M" : "depth D.png");
    }
    if (!path) {
        return VS_EXIT_DONE;
    }
    if (!vs_ask_number(s->args, "depth-scale", 1e-9, SCALE_MOST_M, &d->depth.metres)) {
        return VS_EXIT_USAGE;
    }
    vs_exit code = vs_cli_photo_read(path, VS_CLI_STILL_PIXELS, &d->map, &size, NULL, NULL);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    double shape = (double)size.width * (double)s->photo.size.height /
                   ((double)size.height * (double)s->photo.size.width);
    if (size.factor > 1 || !(fabs(log(shape)) < 0.02)) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s: must have the photo's shape, %zu x %zu pixels or fewer (got %zu x "
                           "%zu)",
                           path, s->photo.size.width, s->photo.size.height, size.width,
                           size.height);
    }
    d->depth.map = &d->map;
    return VS_EXIT_DONE;
}

/* ---- the sheet ---- */

/* Side by side where that is not too wide, else in rows. */
static vs_contact contact_for(const vs_cli_still *s) {
    size_t width = s->photo.picture.width, height = s->photo.picture.height;
    size_t across = s->count;
    vs_contact contact = vs_contact_make(width, height, across, 1);
    while (across > 1 && across * (width + contact.gap) > VS_PICTURE_SIDE_MAX) {
        across--;
        contact = vs_contact_make(width, height, across, (s->count + across - 1) / across);
    }
    return contact;
}

static void write_caption(const vs_cli_still *s, const vs_contact *contact, vs_picture *sheet,
                          size_t which) {
    const vs_style *style = &s->scene.style;
    const vs_density *d = &s->density[which];
    char k[16], range[16], caption[96];
    bool ends = isfinite(d->visible_range_m);
    size_t column = which % contact->columns, row = which / contact->columns;
    snprintf(caption, sizeof caption, "%s /m  visibility %s %s",
             vs_style_number(d->extinction_per_m, k),
             ends ? vs_style_number(vs_style_length(style, d->visible_range_m), range) : "no limit",
             ends ? vs_style_length_unit(style) : "");
    vs_contact_write(contact, sheet, column, row, 0, s->scene.scene->shot[s->shot].name,
                     CAPTION_SIGNAL);
    vs_contact_write(contact, sheet, column, row, 1, caption, CAPTION_SIGNAL);
}

static vs_exit fail_still(const vs_cli_still *s, vs_status status) {
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT;
    return vs_ask_fail(code, "%s:/shots/%zu: %s: %s", s->scene.path, s->shot,
                       s->scene.scene->shot[s->shot].name, vs_status_text(status));
}

static vs_exit make_sheet(const vs_cli_still *s, vs_contact *contact, vs_picture *sheet) {
    *contact = contact_for(s);
    vs_status status = vs_contact_init(contact, s->photo.picture.bits, sheet);
    if (status == VS_ERR_DOMAIN) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--out: must hold fewer or smaller pictures, together at most %u "
                           "pixels, %u a side (got %zu of %zu x %zu)",
                           VS_PICTURE_PIXELS_MAX, VS_PICTURE_SIDE_MAX, s->count,
                           s->photo.picture.width, s->photo.picture.height);
    }
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, "still");
}

static vs_exit write_out(vs_cli_still *s, vs_still *still) {
    const char *path = vs_ask_value(s->args, "out");
    vs_contact contact;
    vs_picture sheet = {0};
    vs_exit code = make_sheet(s, &contact, &sheet);
    for (size_t i = 0; i < s->count && code == VS_EXIT_DONE; i++) {
        size_t x, y;
        vs_contact_place(&contact, i % contact.columns, i / contact.columns, &x, &y);
        vs_status status =
            vs_still_haze(still, s->room_extinction_per_m + i * s->scene.scene->room_count);
        if (status == VS_OK) {
            status = vs_still_composite(still, &s->photo.photo, &sheet, x, y, NULL, &s->clipped);
        }
        code = status == VS_OK ? VS_EXIT_DONE : fail_still(s, status);
        if (code == VS_EXIT_DONE) {
            write_caption(s, &contact, &sheet, i);
        }
    }
    if (code == VS_EXIT_DONE) {
        s->out_width = sheet.width;
        s->out_height = sheet.height;
        code = vs_cli_photo_write(path, &sheet, &s->photo.colour);
    }
    vs_picture_free(&sheet);
    return code;
}

/* ---- layers ---- */

#define EXR_PLANES 10

/* R, G, B; the veil; transmission; depth: what was there without haze is (R - veil)/T. */
static vs_exit write_exr(vs_cli_still *s, vs_still *still) {
    static const char *const name[EXR_PLANES] = {"R",      "G",   "B",   "veil.R", "veil.G",
                                                 "veil.B", "T.R", "T.G", "T.B",    "Z"};
    const char *path = vs_ask_value(s->args, "exr");
    size_t width = s->photo.picture.width, height = s->photo.picture.height;
    vs_exr_channel channel[EXR_PLANES];
    vs_still_planes planes = {0};
    float *memory = malloc(EXR_PLANES * width * height * sizeof *memory);
    unsigned char *bytes = NULL;
    size_t length = 0;
    if (!memory) {
        return vs_ask_fail_status(VS_ERR_MEMORY, path);
    }
    for (int i = 0; i < EXR_PLANES; i++) {
        float *plane = memory + (size_t)i * width * height;
        float **of = i < 3 ? planes.hazed : i < 6 ? planes.veil : planes.transmission;
        if (i < 9) {
            of[i % 3] = plane;
        } else {
            planes.depth_m = plane;
        }
        vs_exr_channel made = {name[i], plane, i == 9};
        channel[i] = made;
    }
    vs_status status = vs_still_haze(still, s->room_extinction_per_m);
    if (status == VS_OK) {
        status = vs_still_composite(still, &s->photo.photo, NULL, 0, 0, &planes, &s->clipped);
    }
    for (size_t i = 0; i < width * height && status == VS_OK; i++) {
        planes.depth_m[i] = isfinite(planes.depth_m[i]) ? planes.depth_m[i] : FAR_M;
    }
    if (status == VS_OK) {
        status = vs_exr_write(channel, EXR_PLANES, width, height,
                              "scene-linear, BT.709 primaries, 0.18 = the shot's middle grey; Z in "
                              "metres square to the picture, 1e10 outside",
                              &bytes, &length);
    }
    free(memory);
    if (status != VS_OK) {
        return fail_still(s, status);
    }
    return vs_cli_write_made(path, status, bytes, length);
}

/* ---- edges ---- */

static vs_exit write_overlay(const vs_cli_still *s, vs_still *still) {
    const char *path = vs_ask_value(s->args, "overlay");
    const vs_picture *photo = &s->photo.picture;
    vs_picture drawn;
    vs_status status = vs_picture_init(&drawn, photo->width, photo->height, photo->bits);
    if (status == VS_OK) {
        memcpy(drawn.sample, photo->sample,
               3 * photo->width * photo->height * sizeof *drawn.sample);
        status = vs_still_draw_edges(still, &drawn);
    }
    for (size_t i = 0; status == VS_OK && s->match && i < s->match->count; i++) {
        const vs_report_match *m = s->match;
        double x_px, y_px;
        vs_still_draw_ring(&drawn, vs_cli_still_kept_px(s, m->pair[i].x_px),
                           vs_cli_still_kept_px(s, m->pair[i].y_px));
        if (vs_match_pixel(&m->match.pose, m->width_px, m->height_px, m->pair[i].at_m, &x_px,
                           &y_px)) {
            vs_still_draw_cross(&drawn, vs_cli_still_kept_px(s, x_px),
                                vs_cli_still_kept_px(s, y_px));
        }
    }
    vs_exit code = status == VS_OK ? vs_cli_photo_write(path, &drawn, &s->photo.colour)
                                   : vs_ask_fail_status(status, path);
    vs_picture_free(&drawn);
    return code;
}

vs_exit vs_cli_still_draw(vs_cli_still *s) {
    const vs_ask_args *args = s->args;
    bool out = vs_ask_value(args, "out"), exr = vs_ask_value(args, "exr");
    depth_map depth = {0};
    if (!out && !exr && !vs_ask_value(args, "overlay")) {
        return VS_EXIT_DONE;
    }
    if (exr && s->count > 1) {
        return vs_ask_fail(VS_EXIT_USAGE, "--exr: needs one density (got %zu)", s->count);
    }
    vs_exit code = read_depth(s, &depth);
    if (code != VS_EXIT_DONE) {
        vs_picture_free(&depth.map);
        return code;
    }
    vs_still still;
    vs_status status = vs_still_open(&still, s->scene.scene, s->shot, &s->camera,
                                     s->photo.picture.width, s->photo.picture.height,
                                     depth.given ? &depth.depth : NULL, vs_ask_drawing_runner());
    if (status != VS_OK) {
        vs_picture_free(&depth.map);
        return fail_still(s, status);
    }
    code = out ? write_out(s, &still) : VS_EXIT_DONE;
    if (code == VS_EXIT_DONE && exr) {
        code = write_exr(s, &still);
    }
    if (code == VS_EXIT_DONE && vs_ask_value(args, "overlay")) {
        code = write_overlay(s, &still);
    }
    vs_still_close(&still);
    vs_picture_free(&depth.map);
    return code;
}
