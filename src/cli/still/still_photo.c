/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a photo's code values mean: its curve, and how bright it was. */
#include <math.h>
#include <string.h>

#include "cli/still/still.h"
#include "veilstop/base/units.h"

#define NO_CLIP_STOPS 30.0    /* [stops] over grey: above the top of any curve */
#define NITS_MOST     1e9     /* [cd/m2] of a metered patch; the sun has 1.6e9 */
#define GAMMA_SRGB    0.45455 /* [1] of a gAMA chunk that stands for sRGB (PNG 11.3.2.5) */
#define GAMMA_NEAR    0.01    /* [1] our choice */

/* Code points of ITU-T H.273, table 3, that have a curve here. */
static const struct {
    unsigned transfer;
    vs_curve_kind curve;
} transfers[] = {{1, VS_CURVE_BT709}, {6, VS_CURVE_BT709},  {8, VS_CURVE_LINEAR},
                 {13, VS_CURVE_SRGB}, {14, VS_CURVE_BT709}, {15, VS_CURVE_BT709},
                 {16, VS_CURVE_PQ},   {18, VS_CURVE_HLG}};

static void take_curve(vs_cli_still_photo *p, vs_curve_kind kind, const char *why) {
    p->photo.as = VS_DEVELOP_LOG;
    p->photo.camera.curve.kind = kind;
    p->photo.camera.stops_above_grey = NO_CLIP_STOPS;
    p->why = why;
}

/* The shot's camera as it is: its curve, and where it clips. */
static void take_camera(vs_cli_still_photo *p, vs_develop_as as, const char *why) {
    p->photo.as = as;
    p->why = why;
}

/* What `picture` writes, and what other programs do. */
static bool take_stated(vs_cli_still_photo *p) {
    static const char of_file[] = "the file says so";
    const vs_png_colour *stated = &p->colour;
    if (stated->note && strcmp(stated->note, VS_DEVELOP_NOTE_DISPLAY) == 0) {
        take_camera(p, VS_DEVELOP_DISPLAY, of_file);
        return true;
    }
    if (stated->note && strcmp(stated->note, VS_DEVELOP_NOTE_LINEAR) == 0) {
        take_camera(p, VS_DEVELOP_LINEAR, of_file);
        return true;
    }
    if (stated->note && strcmp(stated->note, VS_DEVELOP_NOTE_ACESCCT) == 0) {
        double stops = p->photo.camera.stops_above_grey; /* the camera's clip */
        take_curve(p, VS_CURVE_ACESCCT, of_file);
        p->photo.camera.stops_above_grey = stops;
        return true;
    }
    if (stated->note && strcmp(stated->note, VS_DEVELOP_NOTE_LOG) == 0) {
        take_camera(p, VS_DEVELOP_LOG, of_file);
        return true;
    }
    for (size_t i = 0; stated->primaries && i < sizeof transfers / sizeof *transfers; i++) {
        if (transfers[i].transfer == stated->transfer) {
            take_curve(p, transfers[i].curve, of_file);
            return true;
        }
    }
    if (stated->srgb || fabs(stated->gamma - GAMMA_SRGB) < GAMMA_NEAR) {
        take_curve(p, VS_CURVE_SRGB, of_file);
        return true;
    }
    if (stated->gamma == 1) {
        take_curve(p, VS_CURVE_LINEAR, of_file);
        return true;
    }
    return false;
}

/* A file that states nothing: the camera's curve; but 8 bits are taken for a phone's picture, not
 * log. */
static void take_assumed(vs_cli_still_photo *p) {
    vs_curve_kind kind = p->photo.camera.curve.kind;
    if (p->picture.bits == 8 && (kind == VS_CURVE_ACESCCT || kind == VS_CURVE_LOG)) {
        take_curve(p, VS_CURVE_SRGB, "the file does not say; 8 bits");
    } else {
        take_camera(p, VS_DEVELOP_LOG, "the file does not say; the camera's");
    }
}

static vs_exit take_asked(vs_cli_still_photo *p, const char *name) {
    vs_curve curve;
    if (strcmp(name, "camera") == 0 || strcmp(name, "display") == 0) {
        take_camera(p, *name == 'c' ? VS_DEVELOP_LOG : VS_DEVELOP_DISPLAY, "as asked");
        return VS_EXIT_DONE;
    }
    if (vs_curve_named(name, &curve) != VS_OK) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--curve: must be linear, bt709, srgb, acescct, hlg, pq, camera or "
                           "display (got %s)",
                           name);
    }
    take_curve(p, curve.kind, "as asked");
    return VS_EXIT_DONE;
}

double vs_cli_still_kept_px(const vs_cli_still *s, double px) {
    return px / (double)s->photo.size.factor;
}

/* "X,Y" or "X,Y=NITS" */
static vs_exit read_grey(vs_cli_still *s, double *x_px, double *y_px, double *nits) {
    const char *text = vs_ask_value(s->args, "grey");
    size_t x = vs_number_parse(text, x_px);
    size_t y = x && text[x] == ',' ? vs_number_parse(text + x + 1, y_px) : 0;
    const char *rest = y ? text + x + 1 + y : "?";
    bool metered = *rest == '=';
    size_t n = metered ? vs_number_parse(rest + 1, nits) : 0;
    if (metered && s->scene.style.units == VS_LENGTH_FT) {
        *nits *= VS_NITS_PER_FL;
    }
    bool good = metered ? n && !rest[1 + n] && *nits > 0 && *nits <= NITS_MOST : *rest == '\0';
    bool inside = good && *x_px >= 0 && *y_px >= 0 && *x_px <= (double)s->photo.size.width &&
                  *y_px <= (double)s->photo.size.height;
    if (!inside) {
        return vs_ask_fail(VS_EXIT_USAGE,
                           "--grey: must be the pixel of a grey card, X,Y, or of a metered patch, "
                           "X,Y=NITS, in %zu x %zu (got %s)",
                           s->photo.size.width, s->photo.size.height, text);
    }
    return VS_EXIT_DONE;
}

/* One known point: a card that the shot would show as middle grey, or a metered patch. */
static vs_exit calibrate(vs_cli_still *s) {
    vs_still_photo *photo = &s->photo.photo;
    double x_px = 0, y_px = 0, nits = vs_camera_grey_nits(&photo->camera);
    vs_still_patch patch;
    vs_exit code = read_grey(s, &x_px, &y_px, &nits);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    vs_status status = vs_still_expose(photo, vs_cli_still_kept_px(s, x_px),
                                       vs_cli_still_kept_px(s, y_px), nits, &patch);
    if (status == VS_ERR_DOMAIN) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--grey: must have a patch about it in the photo (got "
                           "%g,%g)",
                           x_px, y_px);
    }
    if (status == VS_ERR_INPUT) {
        return vs_ask_fail(VS_EXIT_INPUT,
                           "--grey: must be a patch that is neither clipped nor "
                           "black (got %s at %g,%g)",
                           patch.clipped > patch.dark ? "a clipped one" : "a black one", x_px,
                           y_px);
    }
    if (status != VS_OK) {
        return vs_ask_fail_status(status, "--grey");
    }
    s->grey_by_patch = true;
    return VS_EXIT_DONE;
}

vs_exit vs_cli_still_read_photo(vs_cli_still *s) {
    vs_cli_still_photo *p = &s->photo;
    const char *curve = vs_ask_value(s->args, "curve");
    p->path = s->args->operand[0];
    vs_exit code =
        vs_cli_photo_read(p->path, VS_CLI_STILL_PIXELS, &p->picture, &p->size, &p->colour, p->note);
    if (code != VS_EXIT_DONE) {
        return code;
    }
    const vs_scene *scene = s->scene.scene;
    p->photo.picture = &p->picture;
    p->photo.camera = scene->camera[scene->shot[s->shot].camera];
    p->photo.nits_per_linear = vs_camera_nits(&p->photo.camera, 1);
    if (curve) {
        code = take_asked(p, curve);
    } else if (!take_stated(p)) {
        take_assumed(p);
    }
    return code == VS_EXIT_DONE && vs_ask_value(s->args, "grey") ? calibrate(s) : code;
}
