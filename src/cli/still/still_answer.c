/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The answer of `still`: what the photo is, its camera, the haze laid over it. */
#include <math.h>

#include "ask/day_plan.h"
#include "cli/still/still_points.h"
#include "veilstop/report/predict.h"
#include "veilstop/report/words.h"

#define CLIPPED_WORTH 0.002 /* [1] of the photo: less is a lamp or two; our choice */

static const char *form_name(const vs_still_photo *photo) {
    return photo->as == VS_DEVELOP_DISPLAY  ? "display"
           : photo->as == VS_DEVELOP_LINEAR ? "linear"
                                            : vs_curve_name(&photo->camera.curve);
}

static void add_photo(vs_text *out, const vs_cli_still *s) {
    const vs_cli_still_photo *p = &s->photo;
    vs_text line;
    vs_text_init(&line);
    vs_ask_add_name(&line, p->path);
    vs_text_addf(&line, ": %zu x %zu pixels", p->size.width, p->size.height);
    if (p->size.factor > 1) {
        vs_text_addf(&line, ", worked on as %zu x %zu: there are many", p->picture.width,
                     p->picture.height);
    }
    vs_text_addf(&line, ", read as %s (%s); its light by %s", form_name(&p->photo), p->why,
                 s->grey_by_patch ? "the patch told" : "the shot's exposure");
    vs_style_wrap(out, vs_text_words(&line, out), 2);
    vs_text_free(&line);
}

static void add_file(vs_text *out, const vs_cli_still *s, const char *option, size_t width,
                     size_t height) {
    const char *path = vs_ask_value(s->args, option);
    if (!path) {
        return;
    }
    vs_text_addf(out, "wrote ");
    vs_ask_add_name(out, path);
    if (width > 0) {
        vs_text_addf(out, ", %zu x %zu pixels", width, height);
    }
    vs_text_addf(out, "\n");
}

static void add_files(vs_text *out, const vs_cli_still *s) {
    size_t width = s->photo.picture.width, height = s->photo.picture.height;
    add_file(out, s, "out", s->out_width, s->out_height);
    add_file(out, s, "exr", width, height);
    add_file(out, s, "overlay", width, height);
    add_file(out, s, "write", 0, 0);
}

static void add_densities(vs_text *out, const vs_cli_still *s) {
    for (size_t i = 0; i < s->count; i++) {
        const vs_density *d = &s->density[i];
        vs_text line;
        vs_text_init(&line);
        vs_ask_add_name(&line, s->scene.scene->shot[s->shot].name);
        vs_text_addf(&line, ": %s, visibility ", vs_report_haze_word(d->extinction_per_m));
        vs_report_visibility(&line, &s->scene.style, d->visible_range_m);
        vs_text_addf(&line, "; ");
        vs_report_density(&line, d->extinction_per_m);
        vs_text_addf(&line, " where the camera is");
        vs_text_addf(out, "  ");
        vs_style_wrap(out, vs_text_words(&line, out), 4);
        vs_text_free(&line);
    }
    if (s->clipped > CLIPPED_WORTH) {
        vs_text_addf(
            out,
            "  %.1f %% of the photo is clipped: how bright that is nobody knows, in haze it "
            "may be brighter\n",
            100 * s->clipped);
    }
}

static void add_json(vs_json *json, const vs_cli_still *s) {
    const vs_cli_still_photo *p = &s->photo;
    vs_ask_scene_head_json(json, "still", &s->scene);
    vs_json_open_object(json, "photo");
    vs_json_string(json, "file", p->path);
    vs_json_integer(json, "width", (long)p->size.width);
    vs_json_integer(json, "height", (long)p->size.height);
    vs_json_integer(json, "bits", p->picture.bits);
    vs_json_integer(json, "reduced", (long)p->size.factor);
    vs_json_string(json, "curve", form_name(&p->photo));
    vs_json_number(json, "nits_per_linear", p->photo.nits_per_linear);
    vs_json_close_object(json);
    if (s->match) {
        vs_report_match_json(json, s->match);
    }
    vs_cli_still_points_json(json, s);
    if (s->out_width > 0 || vs_ask_value(s->args, "exr")) {
        vs_json_open_array(json, "pictures");
        for (size_t i = 0; i < s->count; i++) {
            vs_json_open_object(json, NULL);
            vs_json_number(json, "extinction_per_m", s->density[i].extinction_per_m);
            vs_json_finite_or_null(json, "visible_range_m", s->density[i].visible_range_m);
            vs_json_close_object(json);
        }
        vs_json_close_array(json);
        vs_json_integer(json, "width", (long)s->out_width);
        vs_json_integer(json, "height", (long)s->out_height);
        vs_json_number(json, "clipped", s->clipped);
    }
}

vs_exit vs_cli_still_print(const vs_cli_still *s) {
    const vs_ask_args *args = s->args;
    vs_exit code = VS_EXIT_DONE;
    vs_text text;
    vs_json json;
    vs_ask_peaks shown = {0};
    vs_cautions_peaks peaks = {0};
    if (s->thickest_per_m) {
        shown = vs_ask_shown_peaks(s->scene.scene, s->thickest_per_m);
        peaks = vs_ask_peaks_of(&shown);
    }
    vs_text_init(&text);
    vs_json_begin(&json, &text);
    if (vs_ask_flag(args, "json") || vs_ask_flag(args, "csv")) {
        add_json(&json, s);
        if (s->thickest_per_m) {
            vs_ask_scene_alarms(&json, &s->scene, &peaks);
        }
        vs_json_close_object(&json);
        vs_text_addf(&text, "\n");
    } else {
        vs_ask_scene_head(&text, &s->scene);
        add_photo(&text, s);
        if (s->match) {
            vs_report_match_text(&text, &s->scene.style, s->match);
        }
        vs_cli_still_points_text(&text, s);
        add_files(&text, s);
        if (s->out_width > 0 || vs_ask_value(args, "exr")) {
            add_densities(&text, s);
        }
        if (s->thickest_per_m) {
            code = vs_ask_scene_cautions(&text, &s->scene, &peaks, code);
        } else {
            vs_report_short_cautions(&text, s->scene.scene);
        }
    }
    code = vs_ask_print_answer(&text, &json, code);
    vs_text_free(&text);
    return code;
}
