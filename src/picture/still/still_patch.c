/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a small square of a photo shows. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/robust.h"
#include "veilstop/picture/still.h"

#define SPOILED       0.1    /* [1] of a patch's pixels; our choice */
#define PATCH_SHARE   500.0  /* [1] of the longer side, each direction; our choice */
#define HALF_LEAST_PX 2      /* [pixels] our choice */
#define MEDIAN_SD     1.2533 /* [1] sqrt(pi/2): deviation of a median over that of a mean */
#define MAD_NORMAL    1.4826 /* [1] deviation over median absolute deviation of a normal law */
#define SPECK_SIGMAS  3.0    /* [1] our choice */
#define ROUNDING_SD   0.2887 /* [1] 1/sqrt(12): deviation of a step's rounding */
#define DARK_CODES    2.5    /* [1 of 255] under it rounding is most of the signal; our choice */

double vs_still_clip_signal(const vs_still_photo *photo) {
    double top = vs_develop_signal(&photo->camera, photo->as, vs_camera_nits(&photo->camera, 1e9));
    double codes = photo->picture->bits == 8 ? 255 : VS_PICTURE_FULL;
    return top - 0.5 / codes;
}

/* The median of code values that are rounded to steps: as if those of the middle step were spread
 * evenly over it (the median of grouped data). work is overwritten. */
static double grouped_median(const double *code, double *work, size_t count, double step) {
    size_t less = 0, equal = 0;
    memcpy(work, code, count * sizeof *work);
    double median = vs_median(work, count);
    for (size_t i = 0; i < count; i++) {
        less += code[i] < median - step / 2;
        equal += fabs(code[i] - median) <= step / 2;
    }
    if (equal == 0) {
        return median;
    }
    return median + step * ((0.5 * (double)count - (double)less) / (double)equal - 0.5);
}

/* Standard deviation of the median of values, specks clamped at three deviations; value is
 * overwritten. */
static double median_sd(double *value, double *work, size_t count, double median, double step) {
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        value[i] = work[i] = fabs(value[i] - median);
    }
    double most = SPECK_SIGMAS * fmax(MAD_NORMAL * vs_median(work, count), step);
    for (size_t i = 0; i < count; i++) {
        double d = fmin(value[i], most);
        sum += d * d;
    }
    double spread = sqrt(sum / (double)count);
    /* noise over half a step averages the rounding out, less noise leaves all of it */
    double rounding = ROUNDING_SD * step / (spread > step / 2 ? sqrt((double)count) : 1);
    return hypot(MEDIAN_SD * spread / sqrt((double)count), rounding);
}

/* One band of a patch: medians of light, not of codes: the curve is monotonic, so that is the same.
 * work  room for 2 x count */
static void measure(const vs_still_photo *photo, const double *code, double *work, size_t count,
                    double *linear, double *sd) {
    double step = photo->picture->bits == 8 ? 1.0 / 255 : 1.0 / VS_PICTURE_FULL;
    double median = grouped_median(code, work, count, step);
    *linear = vs_develop_linear(&photo->camera, photo->as, median);
    double above = vs_develop_linear(&photo->camera, photo->as, fmin(median + step, 1)) - *linear;
    for (size_t i = 0; i < count; i++) {
        work[i] = vs_develop_linear(&photo->camera, photo->as, code[i]);
    }
    *sd = median_sd(work, work + count, count, *linear, above);
}

vs_status vs_still_patch_at(const vs_still_photo *photo, double x_px, double y_px,
                            vs_still_patch *patch) {
    const vs_picture *p = photo->picture;
    const vs_still_patch blank = {0};
    double longer = fmax((double)p->width, (double)p->height);
    long half = lround(fmax(longer / PATCH_SHARE, HALF_LEAST_PX));
    long x0 = (long)floor(x_px) - half, y0 = (long)floor(y_px) - half, side = 2 * half + 1;
    *patch = blank;
    if (!(x_px >= 0 && y_px >= 0) || x0 < 0 || y0 < 0 || x0 + side > (long)p->width ||
        y0 + side > (long)p->height) {
        return VS_ERR_DOMAIN;
    }
    size_t count = (size_t)(side * side), clipped = 0, dark = 0;
    double *code = malloc(3 * count * sizeof *code), clip = vs_still_clip_signal(photo);
    if (!code) {
        return VS_ERR_MEMORY;
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        size_t n = 0;
        for (long j = y0; j < y0 + side; j++) {
            for (long i = x0; i < x0 + side; i++) {
                code[n] = (double)vs_picture_at(p, (size_t)i, (size_t)j)[band] / VS_PICTURE_FULL;
                clipped += code[n] >= clip;
                dark += code[n++] * 255 < DARK_CODES;
            }
        }
        measure(photo, code, code + count, count, &patch->linear.v[band],
                &patch->linear_sd.v[band]);
    }
    patch->side_px = (size_t)side;
    patch->clipped = (double)clipped / (double)count;
    patch->dark = (double)dark / (3.0 * (double)count);
    free(code);
    return VS_OK;
}

vs_status vs_still_expose(vs_still_photo *photo, double x_px, double y_px, double nits,
                          vs_still_patch *patch) {
    vs_status status = vs_still_patch_at(photo, x_px, y_px, patch);
    if (status != VS_OK) {
        return status;
    }
    double linear = vs_bands_luminance(patch->linear);
    if (patch->clipped > SPOILED || patch->dark > SPOILED || !(linear > 0)) {
        return VS_ERR_INPUT;
    }
    photo->nits_per_linear = nits / linear;
    return VS_OK;
}
