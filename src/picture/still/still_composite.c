/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze over pixels: code values to light, through the haze, the veil added, and back. */
#include <math.h>
#include <string.h>

#include "picture/still/still_kept.h"
#include "picture/view/signal_table.h"

#define ROWS_A_JOB  16 /* our choice */
#define SEARCH      3  /* [samples] how far beside an edge its thing is sought; our choice */
#define CODES       65536
#define WEIGHT_SOFT 0.3 /* [samples^4] nearer ones weigh more, but none alone; our choice */

/* One photo being composited. */
typedef struct {
    const vs_still_kept *k;
    const vs_still_photo *photo;
    vs_picture *out;
    size_t x, y;
    const vs_still_planes *planes;
    float *linear; /* one a code value */
    uint16_t clip; /* code values from here on are clipped */
    vs_signal_table signal;
    float linear_per_nit;
    double plane_per_linear; /* of the photo, to 0.18 = the shot's middle grey */
    size_t *clipped;         /* pixels, one a job */
} compositing;

/* What lies before a pixel. */
typedef struct {
    float veil[VS_BAND_COUNT]; /* [cd/m2] */
    float through[VS_BAND_COUNT];
} air;

static const float *sample_veil(const vs_still_kept *k, size_t i, size_t j) {
    return k->veil[j * k->across + i];
}

/* ---- what lies before a pixel ---- */

/* Between the four corners of a cell that sees one thing. */
static air even_air(const vs_still_kept *k, size_t i, size_t j, float u, float v) {
    size_t at = j * k->across + i;
    const float weight[4] = {(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
    const size_t corner[4] = {at, at + 1, at + k->across, at + k->across + 1};
    air a = {{0}, {0}};
    for (int c = 0; c < 4; c++) {
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            a.veil[band] += weight[c] * k->veil[corner[c]][band];
            a.through[band] += weight[c] * k->transmission[corner[c]][band];
        }
    }
    return a;
}

/* Weighted sums over samples for a plane through their veil: of 1, u, v and products. */
typedef struct {
    double w, u, v, uu, uv, vv;
    double f[VS_BAND_COUNT], fu[VS_BAND_COUNT], fv[VS_BAND_COUNT];
    float low[VS_BAND_COUNT], high[VS_BAND_COUNT];
} plane_sums;

static void add_sample(plane_sums *s, double u, double v, const float *veil) {
    double d = u * u + v * v, w = 1 / (WEIGHT_SOFT + d * d);
    bool first = s->w == 0;
    s->w += w;
    s->u += w * u;
    s->v += w * v;
    s->uu += w * u * u;
    s->uv += w * u * v;
    s->vv += w * v * v;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double f = (double)veil[band];
        s->f[band] += w * f;
        s->fu[band] += w * f * u;
        s->fv[band] += w * f * v;
        s->low[band] = first ? veil[band] : fminf(s->low[band], veil[band]);
        s->high[band] = first ? veil[band] : fmaxf(s->high[band], veil[band]);
    }
}

/* The plane's value at 0, 0: by the normal equations about the weighted middle. Their mean where
 * the samples lie along a line, or where the plane leaves their range. */
static float plane_at(const plane_sums *s, int band) {
    double u = s->u / s->w, v = s->v / s->w, f = s->f[band] / s->w;
    double uu = s->uu / s->w - u * u, uv = s->uv / s->w - u * v, vv = s->vv / s->w - v * v;
    double fu = s->fu[band] / s->w - f * u, fv = s->fv[band] / s->w - f * v;
    double determinant = uu * vv - uv * uv, value = f;
    if (determinant > 1e-3 * uu * vv && uu > 1e-6 && vv > 1e-6) {
        double slope_u = (fu * vv - fv * uv) / determinant;
        double slope_v = (fv * uu - fu * uv) / determinant;
        value = f - slope_u * u - slope_v * v;
    }
    float room = s->high[band] - s->low[band];
    return fminf(fmaxf((float)value, fmaxf(s->low[band] - room / 2, 0)), s->high[band] + room / 2);
}

/* The veil of a thing at a place of the grid, from its pure samples about; false where there are
 * none. */
static bool veil_of_like(const vs_still_kept *k, uint32_t thing, double gx, double gy,
                         float veil[VS_BAND_COUNT]) {
    plane_sums sums = {0};
    long i0 = lround(gx), j0 = lround(gy);
    for (long j = j0 - SEARCH; j <= j0 + SEARCH; j++) {
        for (long i = i0 - SEARCH; i <= i0 + SEARCH; i++) {
            if (i < 0 || j < 0 || i >= (long)k->across || j >= (long)k->down) {
                continue;
            }
            size_t at = (size_t)j * k->across + (size_t)i;
            if (k->sight[at].thing == thing && k->pure[at]) {
                add_sample(&sums, (double)i - gx, (double)j - gy, k->veil[at]);
            }
        }
    }
    for (int band = 0; band < VS_BAND_COUNT && sums.w > 0; band++) {
        veil[band] = plane_at(&sums, band);
    }
    return sums.w > 0;
}

/* Where no sample sees the same thing: the nearest one's veil, scaled by the haze before each. */
static void veil_by_haze(const vs_still_kept *k, double gx, double gy, const air *a,
                         float veil[VS_BAND_COUNT]) {
    size_t i = (size_t)fmin(fmax(gx + 0.5, 0), (double)k->across - 1);
    size_t j = (size_t)fmin(fmax(gy + 0.5, 0), (double)k->down - 1);
    const float *through = k->transmission[j * k->across + i];
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float share = through[band] < 1 ? (1 - a->through[band]) / (1 - through[band]) : 0;
        veil[band] = sample_veil(k, i, j)[band] * share;
    }
}

static void set_through(const vs_still_kept *k, double depth, air *a) {
    vs_bands through = vs_medium_transmission(&k->medium, depth);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        a->through[band] = (float)through.v[band];
    }
}

/* Beside an edge: the pixel's own line of sight, and the veil of samples of the same thing. */
static air edge_air(const vs_still_kept *k, double x_px, double y_px, vs_still_sight *sight) {
    air a;
    double gx = vs_still_grid_x(k, x_px), gy = vs_still_grid_y(k, y_px);
    *sight = vs_still_sight_along(k, vs_still_direction(k, x_px, y_px));
    set_through(k, (double)sight->depth, &a);
    if (!veil_of_like(k, sight->thing, gx, gy, a.veil)) {
        veil_by_haze(k, gx, gy, &a, a.veil);
    }
    return a;
}

/* Between the lines of sight of a cell's corners. */
static vs_still_sight even_sight(const vs_still_kept *k, size_t i, size_t j, float u, float v) {
    size_t at = j * k->across + i;
    const float weight[4] = {(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
    const size_t corner[4] = {at, at + 1, at + k->across, at + k->across + 1};
    vs_still_sight s = {.thing = k->sight[at].thing};
    for (int c = 0; c < 4; c++) {
        const vs_still_sight *of = &k->sight[corner[c]];
        s.length_m += weight[c] * of->length_m;
        s.first_m += weight[c] * of->first_m;
        s.first_depth += weight[c] * of->first_depth;
        s.depth += weight[c] * of->depth;
    }
    return s;
}

/* Ends the line where the depth map has something nearer. */
static void cut_short(const vs_still_kept *k, size_t x, size_t y, const vs_still_sight *sight,
                      air *a) {
    double x_px = (double)x + 0.5, y_px = (double)y + 0.5;
    double length_m = vs_still_map_at(k, x, y) * vs_vec3_length(vs_still_direction(k, x_px, y_px));
    if (!(length_m < (double)sight->length_m)) {
        return;
    }
    float share = (float)vs_still_share_at(k, x_px, y_px, length_m / (double)sight->length_m);
    set_through(k, vs_still_depth_to(sight, length_m), a);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        a->veil[band] *= share;
    }
}

/* ---- pixels ---- */

static void composite_pixel(const compositing *l, size_t x, size_t y, const air *a,
                            size_t *clipped) {
    const uint16_t *from = vs_picture_at(l->photo->picture, x, y);
    uint16_t *to = l->out ? vs_picture_at(l->out, l->x + x, l->y + y) : NULL;
    bool over = false;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        float veil = a->veil[band] * l->linear_per_nit;
        float light = l->linear[from[band]] * a->through[band] + veil;
        over = over || from[band] >= l->clip;
        if (to) {
            to[band] =
                vs_develop_code(vs_signal_table_at(&l->signal, light), l->out->bits, true, x, y);
        }
        if (l->planes) {
            size_t at = y * l->k->width + x;
            float scale = (float)l->plane_per_linear;
            if (l->planes->hazed[band]) {
                l->planes->hazed[band][at] = light * scale;
            }
            if (l->planes->veil[band]) {
                l->planes->veil[band][at] = veil * scale;
            }
            if (l->planes->transmission[band]) {
                l->planes->transmission[band][at] = a->through[band];
            }
        }
    }
    *clipped += over;
}

/* Depth square to the picture, of a line that may be cut short. */
static void composite_depth(const compositing *l, size_t x, size_t y, const vs_still_sight *sight) {
    const vs_still_kept *k = l->k;
    double map_m = k->depth ? vs_still_map_at(k, x, y) : (double)INFINITY;
    vs_vec3 direction = vs_still_direction(k, (double)x + 0.5, (double)y + 0.5);
    bool outside = sight->thing >> 28 == 3;
    double end_m = outside ? (double)INFINITY : (double)sight->length_m / vs_vec3_length(direction);
    l->planes->depth_m[y * k->width + x] = (float)fmin(map_m, end_m);
}

static void composite_row(const compositing *l, size_t y, size_t *clipped) {
    const vs_still_kept *k = l->k;
    double gy = vs_still_grid_y(k, (double)y + 0.5);
    size_t j = (size_t)gy;
    float v = (float)(gy - (double)j);
    bool sights = k->depth || (l->planes && l->planes->depth_m);
    for (size_t x = 0; x < k->width; x++) {
        double gx = vs_still_grid_x(k, (double)x + 0.5);
        size_t i = (size_t)gx;
        float u = (float)(gx - (double)i);
        vs_still_sight sight;
        air a;
        if (k->even[j * k->across + i]) {
            a = even_air(k, i, j, u, v);
            if (sights) {
                sight = even_sight(k, i, j, u, v);
            }
        } else {
            a = edge_air(k, (double)x + 0.5, (double)y + 0.5, &sight);
        }
        if (k->depth) {
            cut_short(k, x, y, &sight, &a);
        }
        composite_pixel(l, x, y, &a, clipped);
        if (l->planes && l->planes->depth_m) {
            composite_depth(l, x, y, &sight);
        }
    }
}

static void composite_rows(void *context, size_t worker, size_t job) {
    const compositing *l = context;
    size_t clipped = 0;
    (void)worker;
    for (size_t y = job * ROWS_A_JOB; y < (job + 1) * ROWS_A_JOB && y < l->k->height; y++) {
        composite_row(l, y, &clipped);
    }
    l->clipped[job] = clipped;
}

/* ---- once a photo ---- */

static void fill_linear(compositing *l) {
    const vs_still_photo *p = l->photo;
    for (int code = 0; code < CODES; code++) {
        double signal = (double)code / (CODES - 1);
        l->linear[code] = (float)vs_develop_linear(&p->camera, p->as, signal);
    }
    l->clip = (uint16_t)ceil(vs_still_clip_signal(p) * (CODES - 1));
}

static bool fits(const vs_still_kept *k, const vs_still_photo *photo, const vs_picture *out,
                 size_t x, size_t y) {
    return k->hazed && photo->picture->width == k->width && photo->picture->height == k->height &&
           photo->nits_per_linear > 0 && isfinite(photo->nits_per_linear) &&
           (!out || (x + k->width <= out->width && y + k->height <= out->height));
}

vs_status vs_still_composite(vs_still *still, const vs_still_photo *photo, vs_picture *out,
                             size_t x, size_t y, const vs_still_planes *planes, double *clipped) {
    const vs_still_kept *k = vs_still_of(still);
    *clipped = NAN;
    if (!fits(k, photo, out, x, y)) {
        return VS_ERR_DOMAIN;
    }
    size_t jobs = (k->height + ROWS_A_JOB - 1) / ROWS_A_JOB, sum = 0;
    compositing l = {.k = k, .photo = photo, .out = out, .x = x, .y = y, .planes = planes};
    l.linear_per_nit = (float)(1 / photo->nits_per_linear);
    l.plane_per_linear = photo->nits_per_linear * vs_camera_linear(&photo->camera, 1);
    l.linear = malloc(CODES * sizeof *l.linear);
    l.clipped = calloc(jobs, sizeof *l.clipped);
    vs_status status = l.linear && l.clipped
                           ? vs_develop_table(&photo->camera, photo->as, &l.signal)
                           : VS_ERR_MEMORY;
    if (status == VS_OK) {
        fill_linear(&l);
        k->runner->each(k->runner->context, jobs, composite_rows, &l);
        for (size_t i = 0; i < jobs; i++) {
            sum += l.clipped[i];
        }
        *clipped = (double)sum / (double)(k->width * k->height);
        vs_signal_table_free(&l.signal);
    }
    free(l.linear);
    free(l.clipped);
    return status;
}
