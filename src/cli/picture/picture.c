/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop picture: what the camera sees, hazed. */
#include "cli/picture/picture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ask/context.h"
#include "ask/day_plan.h"
#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"
#include "veilstop/shot/density.h"
#include "veilstop/shot/held.h"

#define CAPTION_SIGNAL 0.75 /* [1] grey of the letters: our choice */

/* One picture of the answer. */
typedef struct {
    size_t shot;
    vs_density density; /* where the camera is */
    double black_percent;
} tile;

typedef struct {
    vs_ask_scene *scene;
    bool *selected;
    size_t *shot; /* those shown */
    size_t shot_count;
    vs_ask_densities densities;
    size_t columns;
    vs_cli_picture_order order;
    vs_predictor predictor;
    vs_contact contact;
    vs_apng animation;
    vs_picture sheet;
    tile *tile;
    double *thickest_per_m; /* one per room */
} drawing;

static void free_drawing(drawing *d) {
    free(d->selected);
    free(d->shot);
    free(d->tile);
    free(d->thickest_per_m);
    vs_picture_free(&d->sheet);
    vs_apng_free(&d->animation);
    vs_predictor_free(&d->predictor);
}

static vs_exit list_shots(drawing *d, const vs_ask_args *args) {
    size_t count = d->scene->scene->shot_count;
    d->selected = calloc(count + 1, sizeof *d->selected);
    d->shot = calloc(count + 1, sizeof *d->shot);
    d->thickest_per_m = calloc(d->scene->scene->room_count + 1, sizeof *d->thickest_per_m);
    if (!d->selected || !d->shot || !d->thickest_per_m) {
        return vs_ask_fail_status(VS_ERR_MEMORY, "picture");
    }
    vs_exit code = vs_ask_scene_selected(args, d->scene, d->selected);
    for (size_t i = 0; i < count && code == VS_EXIT_DONE; i++) {
        if (d->selected[i]) {
            d->shot[d->shot_count++] = i;
        }
    }
    if (code == VS_EXIT_DONE && d->shot_count == 0) {
        code = vs_ask_fail(VS_EXIT_INPUT, "%s:/shots: must have a shot to be drawn (got none)",
                           d->scene->path);
    }
    return code;
}

static vs_exit read_order(drawing *d, const vs_ask_args *args) {
    vs_exit code = vs_ask_densities_read(args, d->scene->style.units, &d->densities);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    d->columns = d->densities.count > 0 ? d->densities.count : 1;
    size_t tiles = d->columns * d->shot_count;
    const vs_scene *scene = d->scene->scene;
    code = vs_cli_picture_order_read(args, d->scene, &scene->camera[scene->shot[d->shot[0]].camera],
                                     tiles, &d->order);
    d->tile = calloc(tiles, sizeof *d->tile);
    if (code == VS_EXIT_DONE && !d->tile) {
        code = vs_ask_fail_status(VS_ERR_MEMORY, "picture");
    }
    return code;
}

static vs_exit make_sheet(drawing *d) {
    /* several shots at their own densities go side by side, otherwise one shot per row */
    bool row = d->columns == 1;
    size_t across = row ? (size_t)ceil(sqrt((double)d->shot_count)) : d->columns;
    size_t down = row ? (d->shot_count + across - 1) / across : d->shot_count;
    d->contact = vs_contact_make(d->order.width, d->order.height, across, down);
    vs_status status = vs_contact_init(&d->contact, d->order.bits, &d->sheet);
    if (status == VS_ERR_DOMAIN) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--size: must be smaller for %zu pictures: together at most %u pixels, "
                           "%u a side (got %zux%zu each)",
                           d->columns * d->shot_count, VS_PICTURE_PIXELS_MAX, VS_PICTURE_SIDE_MAX,
                           d->order.width, d->order.height);
    }
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, "picture");
}

static vs_exit fail_shot(const drawing *d, size_t shot, vs_status status) {
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE : VS_EXIT_INPUT;
    return vs_ask_fail(code, "%s:/shots/%zu: %s: %s", d->scene->path, shot,
                       d->scene->scene->shot[shot].name, vs_status_text(status));
}

static int by_size(const void *a, const void *b) {
    float x = *(const float *)a, y = *(const float *)b;
    return x < y ? -1 : x > y;
}

/* The median of all pixels' veils [cd/m2]. */
static vs_status middle_veil(const vs_frame_layers *l, double *nits) {
    size_t pixels = l->width * l->height;
    float *list = malloc(pixels * sizeof *list);
    if (!list) {
        return VS_ERR_MEMORY;
    }
    for (size_t i = 0; i < pixels; i++) {
        vs_bands veil = {
            {(double)l->veil.band[0][i], (double)l->veil.band[1][i], (double)l->veil.band[2][i]}};
        list[i] = (float)vs_bands_luminance(veil);
    }
    qsort(list, pixels, sizeof *list, by_size);
    *nits = (double)list[pixels / 2];
    free(list);
    return VS_OK;
}

static const vs_camera *camera_of(const drawing *d, size_t shot) {
    const vs_scene *scene = d->scene->scene;
    return &scene->camera[scene->shot[shot].camera];
}

/* The densities of the rooms for one picture. */
static vs_status rooms_of(drawing *d, size_t shot, size_t column, double *room_extinction_per_m,
                          vs_density *density) {
    const vs_scene *scene = d->scene->scene;
    const vs_haze *haze = &d->predictor.haze;
    double k = d->densities.count > 0 ? vs_ask_density_per_m(&d->densities.item[column], haze)
                                      : (double)NAN;
    vs_status status = vs_held_rooms(scene, &scene->shot[shot], haze, k, room_extinction_per_m);
    for (size_t r = 0; r < scene->room_count && status == VS_OK; r++) {
        d->thickest_per_m[r] = fmax(d->thickest_per_m[r], room_extinction_per_m[r]);
    }
    size_t room = vs_space_room_at(&d->predictor.geometry->space, camera_of(d, shot)->at_m);
    *density = vs_density_of(
        status == VS_OK && room != VS_SPACE_OUTSIDE ? room_extinction_per_m[room] : 0, haze);
    return status;
}

static void write_caption(drawing *d, const tile *t, size_t column, size_t row) {
    const vs_style *style = &d->scene->style;
    char k[16], range[16], black[16], caption[128];
    bool ends = isfinite(t->density.visible_range_m);
    snprintf(caption, sizeof caption, "%s /m  visibility %s %s  black %s %%",
             vs_style_number(t->density.extinction_per_m, k),
             ends ? vs_style_number(vs_style_length(style, t->density.visible_range_m), range)
                  : "no limit",
             ends ? vs_style_length_unit(style) : "", vs_style_number(t->black_percent, black));
    vs_contact_write(&d->contact, &d->sheet, column, row, 0, d->scene->scene->shot[t->shot].name,
                     CAPTION_SIGNAL);
    vs_contact_write(&d->contact, &d->sheet, column, row, 1, caption, CAPTION_SIGNAL);
}

/* Computes the picture at one density and puts it in its place. */
static vs_status draw_tile(drawing *d, vs_frame *frame, size_t which, size_t column) {
    tile *t = &d->tile[which];
    double room_extinction_per_m[VS_ROOMS_MAX], veil_nits = 0;
    const vs_camera *camera = camera_of(d, t->shot);
    vs_frame_layers l;
    size_t x, y, at_x = which % d->contact.columns, at_y = which / d->contact.columns;
    vs_status status = rooms_of(d, t->shot, column, room_extinction_per_m, &t->density);
    if (status == VS_OK) {
        status = vs_frame_render(frame, room_extinction_per_m, VS_FRAME_FINE, false, &l);
    }
    if (status == VS_OK) {
        status = middle_veil(&l, &veil_nits);
    }
    if (status == VS_OK) {
        t->black_percent = vs_camera_signal_percent(camera, veil_nits);
        vs_contact_place(&d->contact, at_x, at_y, &x, &y);
        status = vs_develop(camera, d->order.as, &l.hazed, l.width, l.height, &d->sheet, x, y);
    }
    if (status == VS_OK) {
        write_caption(d, t, at_x, at_y);
    }
    return status;
}

/* exr: NULL for none */
static vs_exit draw_shot(drawing *d, size_t row, const char *exr) {
    size_t shot = d->shot[row];
    vs_frame frame;
    vs_status status = vs_frame_open(&frame, &d->predictor, shot, d->order.width, d->order.height,
                                     vs_ask_drawing_runner());
    if (status != VS_OK) {
        return fail_shot(d, shot, status);
    }
    for (size_t column = 0; column < d->columns && status == VS_OK; column++) {
        size_t which = row * d->columns + column;
        d->tile[which].shot = shot;
        status = draw_tile(d, &frame, which, column);
    }
    vs_exit code = status == VS_OK ? VS_EXIT_DONE : fail_shot(d, shot, status);
    if (code == VS_EXIT_DONE && exr) {
        double room_extinction_per_m[VS_ROOMS_MAX];
        status = rooms_of(d, shot, 0, room_extinction_per_m, &d->tile[0].density);
        code = status == VS_OK ? vs_cli_picture_write_exr(exr, &frame, d->scene->scene,
                                                          camera_of(d, shot), room_extinction_per_m)
                               : fail_shot(d, shot, status);
    }
    vs_frame_close(&frame);
    return code;
}

static vs_exit draw_sheet(drawing *d) {
    vs_status status = vs_predictor_init(&d->predictor, d->scene->scene);
    vs_exit code = status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, d->scene->path);
    for (size_t row = 0; row < d->shot_count && code == VS_EXIT_DONE; row++) {
        code = draw_shot(d, row, d->order.exr);
    }
    if (code == VS_EXIT_DONE && d->order.out) {
        code = vs_cli_picture_write_png(d->order.out, &d->sheet, camera_of(d, d->shot[0]),
                                        d->order.as);
    }
    return code;
}

/* ---- a moving lamp ---- */

static void carry(vs_light *light, const vs_light *from, vs_vec3 along_m, double share) {
    light->at_m = vs_vec3_along(from->at_m, along_m, share);
    light->aim_m = vs_vec3_along(from->aim_m, along_m, share);
}

/* The name of a numbered file; NULL if none is requested. */
static vs_exit number_name(const char *path, size_t number, size_t count, char **name) {
    *name = path ? vs_cli_picture_numbered(path, number, count) : NULL;
    return path && !*name ? vs_ask_fail_status(VS_ERR_MEMORY, path) : VS_EXIT_DONE;
}

/* The sheet as the next picture of an animation. */
static vs_exit add_to_animation(drawing *d) {
    vs_png_colour colour = vs_develop_colour(camera_of(d, d->shot[0]), d->order.as);
    vs_status status = vs_apng_add(&d->animation, &d->sheet, &colour);
    return status == VS_ERR_UNREACHABLE
               ? vs_ask_fail(VS_EXIT_USAGE,
                             "--frames: must be fewer, or --size smaller: an animation takes at "
                             "most %u MB (got %zu frames)",
                             (unsigned)(VS_APNG_BYTES_MAX >> 20), d->order.frames)
           : status == VS_OK ? VS_EXIT_DONE
                             : vs_ask_fail_status(status, d->order.out);
}

static vs_exit write_frame(drawing *d, size_t number) {
    char *png = NULL;
    if (d->animation.kept) {
        return add_to_animation(d);
    }
    vs_exit code = number_name(d->order.out, number, d->order.frames, &png);
    if (code == VS_EXIT_DONE && png) {
        code = vs_cli_picture_write_png(png, &d->sheet, camera_of(d, d->shot[0]), d->order.as);
    }
    free(png);
    return code;
}

static vs_exit draw_frame(drawing *d, const vs_scene *scene, size_t number) {
    char *exr = NULL;
    vs_predictor_free(&d->predictor);
    vs_status status = vs_predictor_init(&d->predictor, scene);
    vs_exit code = status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, d->scene->path);
    if (code == VS_EXIT_DONE) {
        code = number_name(d->order.exr, number, d->order.frames, &exr);
    }
    if (code == VS_EXIT_DONE) {
        code = draw_shot(d, 0, exr);
    }
    free(exr);
    return code == VS_EXIT_DONE ? write_frame(d, number) : code;
}

static vs_exit draw_frames(drawing *d, vs_scene *scene, vs_light *light) {
    const vs_light *from = &d->scene->scene->light[d->order.light];
    vs_exit code = VS_EXIT_DONE;
    for (size_t i = 0; i < d->order.frames && code == VS_EXIT_DONE; i++) {
        carry(&light[d->order.light], from, d->order.along_m,
              (double)i / (double)(d->order.frames - 1));
        code = draw_frame(d, scene, i + 1);
    }
    vs_predictor_free(&d->predictor); /* before its scene goes */
    return code;
}

static vs_exit draw_way(drawing *d) {
    const vs_scene *from = d->scene->scene;
    vs_scene scene = *from;
    vs_light *light = calloc(from->light_count, sizeof *light);
    vs_status status = light ? VS_OK : VS_ERR_MEMORY;
    bool animated = vs_cli_picture_is_animation(d->order.out);
    if (status == VS_OK && animated) {
        status = vs_apng_begin(&d->animation, d->order.frames, VS_CLI_FRAMES_PER_S);
    }
    if (status != VS_OK) {
        free(light);
        return vs_ask_fail_status(status, "picture");
    }
    memcpy(light, from->light, from->light_count * sizeof *light);
    scene.light = light;
    vs_exit code = draw_frames(d, &scene, light);
    if (code == VS_EXIT_DONE && animated) {
        code = vs_cli_picture_write_apng(d->order.out, &d->animation);
    }
    free(light);
    return code;
}

/* ---- the answer ---- */

static void add_files(vs_text *out, const drawing *d) {
    const char *const path[2] = {d->order.out, d->order.exr};
    for (int k = 0; k < 2; k++) {
        if (!path[k]) {
            continue;
        }
        bool numbered = d->order.frames > 1 && !vs_cli_picture_is_animation(path[k]);
        char *name = numbered ? vs_cli_picture_numbered(path[k], 1, d->order.frames) : NULL;
        vs_text_addf(out, "wrote ");
        vs_ask_add_name(out, name ? name : path[k]);
        free(name);
        if (d->order.frames > 1) {
            vs_text_addf(out, "%s, %zu pictures", numbered ? " and on" : "", d->order.frames);
        }
        vs_text_addf(out, ", %zu x %zu pixels\n", k == 0 ? d->sheet.width : d->order.width,
                     k == 0 ? d->sheet.height : d->order.height);
    }
}

static void add_tiles(vs_text *out, const drawing *d) {
    const vs_style *style = &d->scene->style;
    for (size_t i = 0; i < d->columns * d->shot_count; i++) {
        const tile *t = &d->tile[i];
        char black[16];
        vs_text line;
        vs_text_init(&line);
        vs_ask_add_name(&line, d->scene->scene->shot[t->shot].name);
        vs_text_addf(&line, ": %s, visibility ", vs_report_haze_word(t->density.extinction_per_m));
        vs_report_visibility(&line, style, t->density.visible_range_m);
        vs_text_addf(&line, "; ");
        vs_report_density(&line, t->density.extinction_per_m);
        vs_text_addf(&line, " where the camera is; median black %s %% %s",
                     vs_style_number(t->black_percent, black),
                     vs_curve_name(&camera_of(d, t->shot)->curve));
        vs_text_addf(out, "  ");
        vs_style_wrap(out, vs_text_words(&line, out), 4);
        vs_text_free(&line);
    }
}

static void add_json(vs_json *json, const drawing *d) {
    static const char *const as[] = {"display", "log", "linear"};
    vs_ask_scene_head_json(json, "picture", d->scene);
    vs_json_open_array(json, "pictures");
    for (size_t i = 0; i < d->columns * d->shot_count; i++) {
        const tile *t = &d->tile[i];
        vs_json_open_object(json, NULL);
        vs_json_string(json, "shot", d->scene->scene->shot[t->shot].name);
        vs_json_number(json, "extinction_per_m", t->density.extinction_per_m);
        vs_json_finite_or_null(json, "visible_range_m", t->density.visible_range_m);
        vs_json_number(json, "black_percent", t->black_percent);
        vs_json_close_object(json);
    }
    vs_json_close_array(json);
    vs_json_string(json, "as", as[d->order.as]);
    vs_json_integer(json, "width", (int)d->sheet.width);
    vs_json_integer(json, "height", (int)d->sheet.height);
    vs_json_integer(json, "bits", d->order.bits);
    vs_json_integer(json, "frames", (int)d->order.frames);
}

static vs_exit tell(const drawing *d, const vs_ask_args *args) {
    vs_ask_peaks shown = vs_ask_shown_peaks(d->scene->scene, d->thickest_per_m);
    vs_cautions_peaks peaks = vs_ask_peaks_of(&shown);
    vs_exit code = VS_EXIT_DONE;
    vs_text text;
    vs_json json;
    vs_text_init(&text);
    vs_json_begin(&json, &text);
    if (vs_ask_flag(args, "json") || vs_ask_flag(args, "csv")) {
        add_json(&json, d);
        vs_ask_scene_alarms(&json, d->scene, &peaks);
        vs_json_close_object(&json);
        vs_text_addf(&text, "\n");
    } else {
        vs_ask_scene_head(&text, d->scene);
        add_files(&text, d);
        add_tiles(&text, d);
        code = vs_ask_scene_cautions(&text, d->scene, &peaks, code);
    }
    code = vs_ask_print_answer(&text, &json, code);
    vs_text_free(&text);
    return code;
}

static vs_exit prepare(drawing *d, const vs_ask_args *args) {
    vs_exit code = list_shots(d, args);
    if (code == VS_EXIT_DONE) {
        code = read_order(d, args);
    }
    if (code == VS_EXIT_DONE && d->densities.count == 0) {
        code = vs_ask_scene_fill_densities(d->scene, d->shot_count == 1 ? d->shot[0] : VS_NONE);
    }
    return code == VS_EXIT_DONE ? make_sheet(d) : code;
}

static vs_exit run(const vs_ask_args *args) {
    vs_ask_scene scene;
    vs_exit code = vs_ask_scene_open(args, 0, &scene);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    drawing d = {.scene = &scene};
    code = prepare(&d, args);
    if (code == VS_EXIT_DONE) {
        code = d.order.frames > 1 ? draw_way(&d) : draw_sheet(&d);
    }
    if (code == VS_EXIT_DONE) {
        code = tell(&d, args);
    }
    free_drawing(&d);
    vs_ask_scene_close(&scene);
    return code;
}

const vs_ask_command vs_cli_picture = {
    .name = "picture",
    .operands = "SCENE.json",
    .summary = "what the camera sees in that haze, as PNG or EXR; several on a contact sheet",
    .operand_min = 1,
    .operand_max = 1,
    .option = {VS_ASK_SHOT,
               VS_ASK_DENSITY_OPTIONS,
               {"size", "WxH", "pixels of each picture (default 1280 wide, several 640)"},
               {"as", "FORM", "display: BT.709; log: the camera's curve; linear: for checks"},
               {"bits", "8|16", "of a channel (default 8, log and linear 16)"},
               {"out", "FILE.png", "the picture, or a sheet of all of them; FILE.apng: animated"},
               {"exr", "FILE.exr", "scene-linear layers of one shot at one density, for the grade"},
               {"move", "LIGHT:along X,Y,Z", "a lamp is carried along; with --frames"},
               {"frames", "N", "pictures of it on its way, numbered, or one animated PNG"},
               VS_ASK_JSON,
               VS_ASK_UNITS,
               VS_ASK_DATA},
    .example = {"picture data/demo/cellar.json --shot \"1 wide\" --out wide.png",
                "picture data/demo/cellar.json --haze thin,medium,heavy --out sheet.png"},
    .many_shots = true,
    .run = run,
};
