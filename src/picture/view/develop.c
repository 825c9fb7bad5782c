/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Curves by table (signal_table.h), and back. */
#include "veilstop/picture/develop.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "picture/view/signal_table.h"

#define KNEE        0.25 /* [display light] linear up to here; our choice */
#define STEPS       60   /* halvings */
#define SLOPE_MOST  1e6  /* [1] of the roll-off's logarithm, enough for any camera's clip */
#define DITHER_SIDE 8    /* [pixels] */

/* The roll-off K + (1 - K) ln(1 + a (x - K))/ln(1 + a (c - K)) has slope 1 at K where
 * (1 - K) a = ln(1 + a (c - K)): a, for a clip c over 1; 0 if there is nothing to roll off. */
static double roll_off_slope(double clip) {
    double low = 1e-9, high = SLOPE_MOST;
    if (!(clip > 1 + 1e-6)) {
        return 0;
    }
    for (int i = 0; i < STEPS; i++) {
        double a = sqrt(low * high);
        if ((1 - KNEE) * a < log1p(a * (clip - KNEE))) {
            low = a;
        } else {
            high = a;
        }
    }
    return high;
}

static double rolled_off(double slope, double clip, double x) {
    double held = fmin(x, clip);
    if (held <= KNEE || slope == 0) {
        return fmin(held, 1);
    }
    return KNEE + (1 - KNEE) * log1p(slope * (held - KNEE)) / log1p(slope * (clip - KNEE));
}

double vs_develop_rolled_off(const vs_camera *camera, double x) {
    double clip = vs_camera_clip_linear(camera);
    return rolled_off(roll_off_slope(clip), clip, x);
}

/* The conversion applied to every pixel. */
typedef struct {
    const vs_camera *camera;
    vs_develop_as as;
    double clip, slope;
} developer;

static developer make_developer(const vs_camera *camera, vs_develop_as as) {
    double clip = vs_camera_clip_linear(camera);
    developer d = {camera, as, clip, roll_off_slope(clip)};
    return d;
}

static double signal_of(const developer *d, double x) {
    static const vs_curve display = {.kind = VS_CURVE_BT709};
    if (d->as == VS_DEVELOP_LINEAR) {
        return fmin(x / VS_DEVELOP_LINEAR_TOP, 1);
    }
    double signal = d->as == VS_DEVELOP_LOG
                        ? vs_curve_encode(&d->camera->curve, fmin(x, d->clip))
                        : vs_curve_encode(&display, rolled_off(d->slope, d->clip, x));
    return fmin(fmax(signal, 0), 1);
}

double vs_develop_signal(const vs_camera *camera, vs_develop_as as, double nits) {
    developer d = make_developer(camera, as);
    return signal_of(&d, vs_camera_linear(camera, nits));
}

double vs_develop_linear(const vs_camera *camera, vs_develop_as as, double signal) {
    static const vs_curve display = {.kind = VS_CURVE_BT709};
    if (as == VS_DEVELOP_LINEAR) {
        return signal * VS_DEVELOP_LINEAR_TOP;
    }
    if (as == VS_DEVELOP_LOG) {
        return vs_curve_decode(&camera->curve, signal);
    }
    developer d = make_developer(camera, as);
    double y = vs_curve_decode(&display, signal);
    if (y <= KNEE || d.slope == 0) {
        return y;
    }
    return KNEE + expm1((y - KNEE) / (1 - KNEE) * log1p(d.slope * (d.clip - KNEE))) / d.slope;
}

#define BT709_PRIMARIES 1         /* ITU-T H.273 table 2 */
#define DISPLAY_GAMMA   (1 / 2.4) /* ITU-R BT.1886: display gamma for BT.709 signals */
#define SRGB_GAMMA      0.45455   /* PNG, 11.3.2.5: beside an sRGB chunk */

vs_png_colour vs_develop_colour(const vs_camera *camera, vs_develop_as as) {
    /* transfer: ITU-T H.273 table 3 */
    static const vs_png_colour bt709 = {BT709_PRIMARIES, 1, false, DISPLAY_GAMMA, NULL};
    static const vs_png_colour display = {BT709_PRIMARIES, 1, false, DISPLAY_GAMMA,
                                          VS_DEVELOP_NOTE_DISPLAY};
    static const vs_png_colour eighth = {BT709_PRIMARIES, 8, false, 1, VS_DEVELOP_NOTE_LINEAR};
    static const vs_png_colour linear = {BT709_PRIMARIES, 8, false, 1, NULL};
    static const vs_png_colour srgb = {BT709_PRIMARIES, 13, true, SRGB_GAMMA, NULL};
    static const vs_png_colour pq = {BT709_PRIMARIES, 16, false, 0, NULL};
    static const vs_png_colour hlg = {BT709_PRIMARIES, 18, false, 0, NULL};
    static const vs_png_colour acescct = {0, 0, false, 0, VS_DEVELOP_NOTE_ACESCCT};
    static const vs_png_colour log_curve = {0, 0, false, 0, VS_DEVELOP_NOTE_LOG};
    if (as != VS_DEVELOP_LOG) {
        return as == VS_DEVELOP_LINEAR ? eighth : display;
    }
    switch (camera->curve.kind) {
    case VS_CURVE_LINEAR:
        return linear;
    case VS_CURVE_BT709:
        return bt709;
    case VS_CURVE_SRGB:
        return srgb;
    case VS_CURVE_PQ:
        return pq;
    case VS_CURVE_HLG:
        return hlg;
    case VS_CURVE_ACESCCT:
        return acescct;
    case VS_CURVE_LOG:
        break;
    }
    return log_curve;
}

static double table_signal(const void *context, double x) {
    return signal_of(context, x);
}

vs_status vs_develop_table(const vs_camera *camera, vs_develop_as as, vs_signal_table *table) {
    developer d = make_developer(camera, as);
    return vs_signal_table_init(table, table_signal, &d);
}

/* Bayer's pattern of order 8 (Bayer 1973), 0 to 63: bits of x ^ y and y, interleaved in reverse. */
static int bayer(size_t x, size_t y) {
    size_t a = x ^ y, b = y, at = 0;
    for (int i = 0; i < 3; i++) {
        at = at << 2 | (a >> i & 1) << 1 | (b >> i & 1);
    }
    return (int)at;
}

uint16_t vs_develop_code(float signal, int bits, bool dither, size_t x, size_t y) {
    if (bits == 16) {
        return (uint16_t)lrintf(signal * (float)VS_PICTURE_FULL);
    }
    float threshold = dither ? ((float)bayer(x % DITHER_SIDE, y % DITHER_SIDE) + 0.5f) / 64 : 0.5f;
    int code = (int)floorf(signal * 255 + threshold);
    return (uint16_t)((code > 255 ? 255 : code) * 257);
}

vs_status vs_develop(const vs_camera *camera, vs_develop_as as, const vs_frame_plane *nits,
                     size_t width, size_t height, vs_picture *picture, size_t x, size_t y) {
    if (x + width > picture->width || y + height > picture->height) {
        return VS_ERR_DOMAIN;
    }
    vs_signal_table table;
    if (vs_develop_table(camera, as, &table) != VS_OK) {
        return VS_ERR_MEMORY;
    }
    float scale = (float)vs_camera_linear(camera, 1);
    for (size_t j = 0; j < height; j++) {
        for (size_t i = 0; i < width; i++) {
            uint16_t *sample = vs_picture_at(picture, x + i, y + j);
            for (int band = 0; band < VS_BAND_COUNT; band++) {
                float signal = vs_signal_table_at(&table, nits->band[band][j * width + i] * scale);
                sample[band] =
                    vs_develop_code(signal, picture->bits, as != VS_DEVELOP_LINEAR, x + i, y + j);
            }
        }
    }
    vs_signal_table_free(&table);
    return VS_OK;
}
