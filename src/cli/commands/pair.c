/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop pair: two frames of one framing, without haze and with it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "ask/grade/grade_files.h"
#include "ask/scene_args.h"
#include "cli/cli.h"
#include "cli/photo.h"
#include "cli/progress.h"
#include "veilstop/picture/pair.h"
#include "veilstop/picture/png.h"
#include "veilstop/report/cautions.h"
#include "veilstop/report/grade.h"
#include "veilstop/report/json.h"
#include "veilstop/report/style.h"
#include "veilstop/report/words.h"

#define HALF        0.5  /* [1] less of a frame explained by one depth: not haze; our choice */
#define ERROR_LEAST 1e-5 /* [code] below this the frames are equal: half a step of 16 bits */
#define PIXELS_KEPT (1u << 24) /* of a frame: all of 5K; larger ones are reduced while reading */

typedef struct {
    const char *clear_path, *hazed_path;
    vs_picture clear, hazed, map, matte;
    vs_png_size size, hazed_size; /* of the files */
    vs_curve curve;
    vs_pair pair;
} comparison;

static vs_exit read_all(const vs_ask_args *args, comparison *c) {
    const char *name = vs_ask_value(args, "curve");
    c->clear_path = args->operand[0];
    c->hazed_path = args->operand[1];
    if (vs_curve_named(name ? name : "srgb", &c->curve) != VS_OK) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--curve: must be linear, bt709, srgb, acescct, hlg or pq (got %s)",
                           name);
    }
    vs_exit code = vs_cli_photo_read(c->clear_path, PIXELS_KEPT, &c->clear, &c->size, NULL, NULL);
    if (code == VS_EXIT_DONE) {
        code = vs_cli_photo_read(c->hazed_path, PIXELS_KEPT, &c->hazed, &c->hazed_size, NULL, NULL);
    }
    if (code == VS_EXIT_DONE &&
        (c->size.width != c->hazed_size.width || c->size.height != c->hazed_size.height)) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "%s: must be as large as the clear frame, %zu x %zu pixels (got %zu x "
                           "%zu)",
                           c->hazed_path, c->size.width, c->size.height, c->hazed_size.width,
                           c->hazed_size.height);
    }
    return code;
}

static vs_exit compare(const vs_ask_args *args, comparison *c) {
    vs_ask_doing("comparing the frames");
    vs_faults of_clear = {0}, of_hazed = {0};
    vs_picture *map = vs_ask_value(args, "map") ? &c->map : NULL;
    vs_picture *matte = vs_ask_value(args, "matte") ? &c->matte : NULL;
    vs_status status = vs_pair_compare(&c->clear, &c->hazed, &c->curve, &c->pair, map, matte,
                                       &of_clear, &of_hazed);
    if (vs_faults_any(&of_clear)) {
        return vs_ask_fail_faults(c->clear_path, &of_clear);
    }
    if (vs_faults_any(&of_hazed)) {
        return vs_ask_fail_faults(c->hazed_path, &of_hazed);
    }
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_status(status, "pair");
}

static vs_exit write_picture(const char *path, const vs_picture *picture, const vs_png_size *as) {
    if (!path) {
        return VS_EXIT_DONE;
    }
    unsigned char *bytes;
    size_t length;
    vs_status status = vs_png_write_enlarged(picture, as, &bytes, &length);
    return vs_cli_write_made(path, status, bytes, length);
}

/* The fitted matrix or, with --physical, the grade for one depth's transmission and veil. */
static vs_exit write_clf(const vs_ask_args *args, const comparison *c, vs_clf_promise *promise) {
    const char *path = vs_ask_value(args, "clf"), *curve = vs_curve_name(&c->curve);
    vs_linear_grade grade;
    vs_text words;
    vs_text_init(&words);
    vs_exit code = VS_EXIT_DONE;
    if (!vs_ask_flag(args, "physical")) {
        vs_text_addf(
            &words,
            "brings a hazed frame back to its clear one, a matrix in %s code values: off by "
            "%.4f rms, %.4f before",
            curve, c->pair.error_matrix, c->pair.error_before);
        code = vs_ask_write_clf_matrix(path, &c->curve, c->pair.matrix.m, "veilstop-pair", &words);
    } else if (vs_grade_undo(&c->pair.depth, 1, &grade) == VS_OK) {
        vs_text_addf(&words, "undoes haze of one depth, in %s", curve);
        code = vs_ask_write_clf(path, &c->curve, &grade, "veilstop-pair", &words, promise);
    } else {
        code = vs_ask_fail_status(VS_ERR_DOMAIN, "pair");
    }
    vs_text_free(&words);
    return code;
}

static vs_exit write_cdl(const vs_ask_args *args, const comparison *c) {
    vs_text words;
    vs_text_init(&words);
    vs_text_addf(&words,
                 "brings a hazed frame back to its clear one, in %s: code values off by "
                 "%.4f rms, %.4f before",
                 vs_curve_name(&c->curve), c->pair.error_after, c->pair.error_before);
    vs_exit code =
        vs_ask_write_cdl(vs_ask_value(args, "cdl"), &c->pair.cdl, "veilstop-pair", &words);
    vs_text_free(&words);
    return code;
}

/* Nothing is written for frames that do not match. */
static vs_exit write_files(const vs_ask_args *args, const comparison *c, vs_clf_promise *promise) {
    if (c->pair.match != VS_PAIR_SAME) {
        return VS_EXIT_DONE;
    }
    vs_exit code = write_cdl(args, c);
    if (code == VS_EXIT_DONE) {
        code = write_clf(args, c, promise);
    }
    if (code == VS_EXIT_DONE) {
        code = write_picture(vs_ask_value(args, "map"), &c->map, &c->size);
    }
    return code == VS_EXIT_DONE ? write_picture(vs_ask_value(args, "matte"), &c->matte, &c->size)
                                : code;
}

/* In the order of vs_pair_match. */
static const char *const match_name[] = {"same", "identical", "other framing", "other set"};

static void add_json(vs_json *json, const comparison *c) {
    const vs_pair *p = &c->pair;
    vs_json_open_object(json, NULL);
    vs_json_string(json, "command", "pair");
    vs_json_string(json, "curve", vs_curve_name(&c->curve));
    vs_json_string(json, "match", match_name[p->match]);
    vs_json_bands(json, "transmission", p->depth.transmission);
    vs_json_bands(json, "veil", p->depth.veil);
    vs_json_number(json, "explained", p->explained);
    vs_json_open_array(json, "shift_px");
    vs_json_integer(json, NULL, (long)c->size.factor * p->shift_x);
    vs_json_integer(json, NULL, (long)c->size.factor * p->shift_y);
    vs_json_close_array(json);
    vs_json_open_object(json, "cdl");
    vs_report_cdl_json(json, &p->cdl);
    vs_json_close_object(json);
    vs_json_bool(json, "cdl_held_back", p->held_back);
    vs_json_open_array(json, "matrix");
    for (int row = 0; row < VS_BAND_COUNT; row++) {
        vs_json_open_array(json, NULL);
        for (int k = 0; k < 4; k++) {
            vs_json_number(json, NULL, p->matrix.m[row][k]);
        }
        vs_json_close_array(json);
    }
    vs_json_close_array(json);
    vs_json_number(json, "error_before", p->error_before);
    vs_json_number(json, "error_after", p->error_after);
    vs_json_number(json, "error_matrix", p->error_matrix);
    if (c->matte.sample) {
        vs_json_bands(json, "matte_source", p->source);
        vs_json_number(json, "error_matte", p->error_matte);
    }
    vs_json_close_object(json);
    vs_text_addf(json->out, "\n");
}

static void add_bands(vs_text *out, const char *what, vs_bands value, const char *unit) {
    vs_text_addf(out, "  %-14s R %.4f  G %.4f  B %.4f  %s\n", what, value.v[0], value.v[1],
                 value.v[2], unit);
}

/* In the order of vs_pair_match. */
static const char *const no_match[] = {
    "", "are identical: no haze between them, no grade.",
    "do not match: the same set in another framing; no grade.",
    "do not match: another set, or haze too thick to see through; no grade."};

/* The reduction of an error in decibels: 20 to a tenth. */
static double gain_db(double before, double after) {
    return 20 * log10(fmax(before, ERROR_LEAST) / fmax(after, ERROR_LEAST));
}

static void add_errors(vs_text *out, const comparison *c) {
    const vs_pair *p = &c->pair;
    vs_text_addf(out, "  off from the clear frame (rms of code values, 1 is full scale):\n");
    vs_text_addf(out, "    %-12s %.4f\n", "as shot", p->error_before);
    vs_text_addf(out, "    %-12s %.4f  %.1f dB nearer%s\n", "CDL", p->error_after,
                 gain_db(p->error_before, p->error_after),
                 p->held_back ? "; weakened, or it would do harm" : "");
    vs_text_addf(out, "    %-12s %.4f  %.1f dB nearer\n", "matrix (CLF)", p->error_matrix,
                 gain_db(p->error_before, p->error_matrix));
    if (c->matte.sample) {
        vs_text_addf(out, "    %-12s %.4f  %.1f dB %s\n", "by the map", p->error_matte,
                     fabs(gain_db(p->error_before, p->error_matte)),
                     p->error_matte <= p->error_before ? "nearer" : "further off: leave it");
        add_bands(out, "haze itself", p->source, "scene-linear");
        vs_text_addf(
            out, "  The map: light back = (hazed - haze itself) / map + haze itself. It takes the "
                 "haze for\n  one colour and brightness all over, thicker here than there; where "
                 "a beam lights it, it errs.\n");
    }
}

static void add_text(vs_text *out, const comparison *c) {
    const vs_pair *p = &c->pair;
    double lost = -log2(vs_bands_luminance(p->depth.transmission));
    vs_ask_add_name(out, c->clear_path);
    vs_text_addf(out, " and ");
    vs_ask_add_name(out, c->hazed_path);
    if (p->match != VS_PAIR_SAME) {
        vs_text_addf(out, " %s\n", no_match[p->match]);
        return;
    }
    vs_text_addf(out, ": %zu x %zu pixels, read as %s\n", c->size.width, c->size.height,
                 vs_curve_name(&c->curve));
    if (c->size.factor > 1) {
        vs_text_addf(out, "  measured on means of %zu x %zu pixels: there are many\n",
                     c->size.factor, c->size.factor);
    }
    double black = 100 * vs_curve_encode(&c->curve, vs_bands_luminance(p->depth.veil));
    double clear = 100 * vs_curve_encode(&c->curve, 0);
    add_bands(out, "kept", p->depth.transmission, "");
    vs_text_addf(out, "  %-14s haze takes %.2f stops of light\n", "", lost);
    add_bands(out, "veil", p->depth.veil, "scene-linear");
    vs_text_addf(out, "  %-14s black lifted by %.1f to %.1f %% %s: %s\n", "", black - clear, black,
                 vs_curve_name(&c->curve), vs_report_black_word(vs_bands_luminance(p->depth.veil)));
    vs_text_addf(out, "  one depth of haze explains %.0f %% of the frame to %.1f stop\n",
                 100 * p->explained, VS_PAIR_EXPLAINED_STOPS);
    if (p->explained < HALF) {
        vs_text_addf(out,
                     "  so depth varies: --map FILE.png shows where, --matte FILE.png makes a mask "
                     "of it\n");
    }
    if (p->shift_x != 0 || p->shift_y != 0) {
        vs_text_addf(out, "  the camera moved: the hazed frame lies %+ld right, %+ld down\n",
                     (long)c->size.factor * p->shift_x, (long)c->size.factor * p->shift_y);
    }
    vs_text_addf(out, "  CDL in %s, hazed to clear:\n", vs_curve_name(&c->curve));
    vs_report_cdl_text(out, &p->cdl);
    add_errors(out, c);
}

static vs_exit answer(const vs_ask_args *args, const comparison *c, const vs_clf_promise *promise) {
    vs_text out;
    vs_json json;
    vs_text_init(&out);
    vs_json_begin(&json, &out);
    if (vs_ask_flag(args, "json")) {
        add_json(&json, c);
    } else {
        add_text(&out, c);
        if (c->pair.match == VS_PAIR_SAME) {
            vs_ask_files_text(&out, args, vs_ask_flag(args, "physical") ? promise : NULL);
        }
        vs_report_light_caution(&out, NULL, NULL, NULL, NULL);
    }
    vs_exit code = vs_ask_print_answer(
        &out, &json, c->pair.match == VS_PAIR_SAME ? VS_EXIT_DONE : VS_EXIT_UNMET);
    vs_text_free(&out);
    return code;
}

static vs_exit run(const vs_ask_args *args) {
    if (vs_ask_flag(args, "physical") && !vs_ask_value(args, "clf")) {
        return vs_ask_fail(VS_EXIT_USAGE, "--physical: must stand beside --clf FILE");
    }
    comparison c = {0};
    vs_clf_promise promise = {0};
    vs_exit code = read_all(args, &c);
    if (code == VS_EXIT_DONE) {
        code = compare(args, &c);
    }
    if (code == VS_EXIT_DONE) {
        code = write_files(args, &c, &promise);
    }
    if (code == VS_EXIT_DONE) {
        code = answer(args, &c, &promise);
    }
    vs_picture_free(&c.clear);
    vs_picture_free(&c.hazed);
    vs_picture_free(&c.map);
    vs_picture_free(&c.matte);
    return code;
}

const vs_ask_command vs_cli_pair = {
    .name = "pair",
    .operands = "CLEAR.png HAZED.png",
    .summary =
        "what the haze did between two frames of one framing, and the grade that takes it off",
    .operand_min = 2,
    .operand_max = 2,
    .option = {{"curve", "NAME",
                "both were made with it: linear, bt709, srgb (default), acescct, "
                "hlg, pq"},
               VS_CLI_CDL,
               {"clf", "FILE", "write the fitted matrix in the Common LUT Format, hazed to clear"},
               {"physical", NULL, "with --clf: what one depth of haze asks for, in its place"},
               {"map", "FILE.png",
                "where one depth does not explain it: orange more haze, blue "
                "less"},
               {"matte", "FILE.png",
                "how much of each pixel the haze kept, 16 bit, white is all: a mask"},
               VS_ASK_JSON},
    .example = {"pair clear.png hazed.png", "pair clear.png hazed.png --curve srgb --cdl back.cdl"},
    .run = run,
};
