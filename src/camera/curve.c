/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The curves of the open standards and their inverses, with each standard's own constants. Each
 * curve names its source; the conventions (x = 0.18 grey, reference white) are in the header. */
#include "veilstop/camera/curve.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include "veilstop/camera/camera.h"

#define FALL_MAX 1e-4 /* [signal] half a 12-bit step: constants are printed to four digits */

/* The linear part, up to a break, of BT.709, sRGB, ACEScct and LOG. */
typedef struct {
    double cut;           /* [1] scene-linear break; part of the linear section */
    double slope, offset; /* linear part: slope x + offset */
} toe;

/* ITU-R BT.709-6 item 1.2: V = 4.5 L below 0.018, 1.099 L^0.45 - 0.099 from there. */
#define BT709_GAIN  1.099 /* [1] BT.709-6 */
#define BT709_POWER 0.45  /* [1] BT.709-6 */
static const toe bt709_toe = {0.018, 4.5, 0};

/* IEC 61966-2-1:1999: 12.92 L up to 0.0031308, else 1.055 L^(1/2.4) - 0.055. */
#define SRGB_GAIN  (1 + VS_SRGB_OFFSET)   /* [1] IEC 61966-2-1 */
#define SRGB_POWER (1 / VS_SRGB_EXPONENT) /* [1] IEC 61966-2-1 */
static const toe srgb_toe = {0.0031308, 12.92, 0};

/* Academy S-2016-001: 10.54.. x + 0.0729.. up to 2^-7, else (log2 x + 9.72)/17.52. */
#define ACESCCT_SHIFT 9.72  /* [stops] Academy S-2016-001 */
#define ACESCCT_SCALE 17.52 /* [stops] Academy S-2016-001 */
static const toe acescct_toe = {0.0078125, 10.5402377416545, 0.0729055341958355};

/* ITU-R BT.2100-2 table 5, HLG OETF: sqrt(3 E) up to E = 1/12, else a ln(12 E - b) + c. */
#define HLG_A          0.17883277 /* [1] BT.2100-2 */
#define HLG_B          0.28466892 /* [1] BT.2100-2: 1 - 4a */
#define HLG_C          0.55991073 /* [1] BT.2100-2: 0.5 - a ln(4a) */
#define HLG_BREAK      (1.0 / 12) /* [1] BT.2100-2, in E */
#define HLG_E_OF_WHITE 0.265      /* [1] E of reference white: 75 % HLG, BT.2408-4 table 1 */

/* ITU-R BT.2100-2 table 4, PQ (SMPTE ST 2084), Y = luminance / 10000 cd/m2. */
#define PQ_M1            (2610.0 / 16384)      /* [1] BT.2100-2 */
#define PQ_M2            (2523.0 / 4096 * 128) /* [1] BT.2100-2 */
#define PQ_C1            (3424.0 / 4096)       /* [1] BT.2100-2 */
#define PQ_C2            (2413.0 / 4096 * 32)  /* [1] BT.2100-2 */
#define PQ_C3            (2392.0 / 4096 * 32)  /* [1] BT.2100-2 */
#define PQ_PEAK_NITS     10000.0               /* [cd/m2] BT.2100-2 */
#define PQ_NITS_OF_WHITE 203.0                 /* [cd/m2] BT.2408-4 table 1: 58 % PQ */

/* A curve with a toe: `shoulder` or its inverse above the break. */
static double encode_over_toe(toe t, double x, double shoulder) {
    return x > t.cut ? shoulder : t.slope * x + t.offset;
}

static double decode_over_toe(toe t, double signal, double shoulder) {
    return signal > t.slope * t.cut + t.offset ? fmax(t.cut, shoulder)
                                               : (signal - t.offset) / t.slope;
}

static double linear_encode(double x) {
    return x;
}

static double linear_decode(double signal) {
    return signal;
}

static double bt709_encode(double x) {
    return encode_over_toe(bt709_toe, x, BT709_GAIN * pow(x, BT709_POWER) - (BT709_GAIN - 1));
}

static double bt709_decode(double signal) {
    return decode_over_toe(bt709_toe, signal,
                           pow((signal + (BT709_GAIN - 1)) / BT709_GAIN, 1 / BT709_POWER));
}

static double srgb_encode(double x) {
    return encode_over_toe(srgb_toe, x, SRGB_GAIN * pow(x, SRGB_POWER) - (SRGB_GAIN - 1));
}

static double srgb_decode(double signal) {
    return decode_over_toe(srgb_toe, signal,
                           pow((signal + (SRGB_GAIN - 1)) / SRGB_GAIN, 1 / SRGB_POWER));
}

static double acescct_encode(double x) {
    return encode_over_toe(acescct_toe, x, (log2(x) + ACESCCT_SHIFT) / ACESCCT_SCALE);
}

static double acescct_decode(double signal) {
    return decode_over_toe(acescct_toe, signal, exp2(signal * ACESCCT_SCALE - ACESCCT_SHIFT));
}

static double hlg_encode(double x) {
    double e = HLG_E_OF_WHITE * x;
    if (e <= 0) {
        return 0;
    }
    return e <= HLG_BREAK ? sqrt(3 * e) : HLG_A * log(12 * e - HLG_B) + HLG_C;
}

static double hlg_decode(double signal) {
    if (signal <= 0) {
        return 0;
    }
    double e = signal <= 0.5 ? signal * signal / 3 : (exp((signal - HLG_C) / HLG_A) + HLG_B) / 12;
    return e / HLG_E_OF_WHITE;
}

static double pq_encode(double x) {
    double nits = PQ_NITS_OF_WHITE * x;
    double y = pow(nits > 0 || isnan(nits) ? nits / PQ_PEAK_NITS : 0, PQ_M1);
    return pow((PQ_C1 + PQ_C2 * y) / (1 + PQ_C3 * y), PQ_M2);
}

static double pq_decode(double signal) {
    double p = pow(signal > 0 || isnan(signal) ? signal : 0, 1 / PQ_M2);
    double above = p - PQ_C1;
    double below = PQ_C2 - PQ_C3 * p;
    if (above <= 0) {
        return 0;
    }
    double nits =
        below > 0 || isnan(below) ? PQ_PEAK_NITS * pow(above / below, 1 / PQ_M1) : (double)INFINITY;
    return nits / PQ_NITS_OF_WHITE;
}

/* The user's own: y = c log10(a x + b) + d above the cut, e x + f below it. */
static double log_shoulder(const vs_curve *k, double x) {
    return k->c * log10(k->a * x + k->b) + k->d;
}

static double log_encode(const vs_curve *k, double x) {
    const toe t = {k->cut, k->e, k->f};
    return encode_over_toe(t, x, log_shoulder(k, x));
}

static double log_decode(const vs_curve *k, double signal) {
    const toe t = {k->cut, k->e, k->f};
    return decode_over_toe(t, signal, (pow(10, (signal - k->d) / k->c) - k->b) / k->a);
}

/* ---- the table of curves (curve.h) ---- */

#define NAME(member, name, encode, decode, node)   name,
#define ENCODE(member, name, encode, decode, node) encode,
#define DECODE(member, name, encode, decode, node) decode,
static const char *const names[VS_CURVE_NAMED_COUNT] = {VS_CURVE_LIST(NAME)};
static double (*const encode_of[VS_CURVE_NAMED_COUNT])(double x) = {VS_CURVE_LIST(ENCODE)};
static double (*const decode_of[VS_CURVE_NAMED_COUNT])(double signal) = {VS_CURVE_LIST(DECODE)};

double vs_curve_encode(const vs_curve *curve, double x) {
    return curve->kind == VS_CURVE_LOG ? log_encode(curve, x) : encode_of[curve->kind](x);
}

double vs_curve_decode(const vs_curve *curve, double signal) {
    return curve->kind == VS_CURVE_LOG ? log_decode(curve, signal) : decode_of[curve->kind](signal);
}

double vs_curve_top(const vs_curve *curve) {
    return vs_curve_decode(curve, 1);
}

static vs_status check_log(const vs_curve *k) {
    const double constant[] = {k->a, k->b, k->c, k->d, k->e, k->f, k->cut};
    for (size_t i = 0; i < sizeof constant / sizeof constant[0]; i++) {
        if (!isfinite(constant[i])) {
            return VS_ERR_DOMAIN;
        }
    }
    /* a < 0 with c < 0 also rises, but ends at x = -b/a, so it does not cover all light. */
    if (!(k->a > 0 && k->c > 0 && k->e > 0 && k->a * k->cut + k->b > 0)) {
        return VS_ERR_DOMAIN;
    }
    bool falls = log_shoulder(k, k->cut) < k->e * k->cut + k->f - FALL_MAX;
    return falls || !(vs_curve_top(k) > VS_CAMERA_GREY_LINEAR) ? VS_ERR_DOMAIN : VS_OK;
}

vs_status vs_curve_as_log(const vs_curve *curve, vs_curve *log_curve) {
    memset(log_curve, 0, sizeof *log_curve);
    if (curve->kind == VS_CURVE_LOG) {
        *log_curve = *curve;
        return VS_OK;
    }
    if (curve->kind != VS_CURVE_ACESCCT) {
        return VS_ERR_DOMAIN;
    }
    log_curve->kind = VS_CURVE_LOG;
    log_curve->a = 1;
    log_curve->c = 1 / (ACESCCT_SCALE * log10(2));
    log_curve->d = ACESCCT_SHIFT / ACESCCT_SCALE;
    log_curve->e = acescct_toe.slope;
    log_curve->f = acescct_toe.offset;
    log_curve->cut = acescct_toe.cut;
    return VS_OK;
}

vs_status vs_curve_check(const vs_curve *curve) {
    if (curve->kind == VS_CURVE_LOG) {
        return check_log(curve);
    }
    return (unsigned)curve->kind < VS_CURVE_NAMED_COUNT ? VS_OK : VS_ERR_DOMAIN;
}

const char *vs_curve_name(const vs_curve *curve) {
    return (unsigned)curve->kind < VS_CURVE_NAMED_COUNT ? names[curve->kind]
           : curve->kind == VS_CURVE_LOG                ? "log"
                                                        : "unknown curve";
}

const char *const *vs_curve_names(void) {
    return names;
}

vs_status vs_curve_named(const char *name, vs_curve *curve) {
    memset(curve, 0, sizeof *curve);
    for (int kind = 0; kind < VS_CURVE_NAMED_COUNT; kind++) {
        if (strcmp(names[kind], name) == 0) {
            curve->kind = (vs_curve_kind)kind;
            return VS_OK;
        }
    }
    return VS_ERR_INPUT;
}
