/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Extinction from two photos: the points' transmission and veil tabulated over density, and the
 * fit. */
#include "veilstop/shot/photo_reading.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/base/minimum.h"
#include "veilstop/base/robust.h"
#include "veilstop/base/root.h"
#include "veilstop/base/statistics.h"
#include "veilstop/shot/held.h"

#define NODES           12    /* densities computed; our choice */
#define DEPTH_MOST      3.0   /* [1] of optical depth to the furthest point, as in choose */
#define NODE_LEAST      0.02  /* [1] of the thickest density: the first node over 0 */
#define MODEL_SD        0.005 /* [1] of the prediction, one standard deviation; our choice */
#define SCAN            160   /* densities tried for the lowest sum; our choice */
#define OFF_MOST        0.25 /* [1] of the light seen: a larger misfit is not this haze; our choice */
#define LEFT_OUT_LEAST  5    /* patches where one may be left out; our choice */
#define LEFT_OUT_RATIO  4.0  /* [1] its mean square over the others': our choice */
#define VEIL_SD         0.5  /* [1] of the veil's brightness, from lit points; our choice */
#define VARIANCE_COUNTS 3.0  /* [equations] our choice */
#define INTERVAL_SHARE  0.95 /* one-sided share of a 90 % interval */

/* One point at one density. */
typedef struct {
    vs_bands log_kept; /* log of the share kept of its light, to the point and to the camera */
    vs_bands veil;     /* [cd/m2] */
} node;

typedef struct {
    size_t count; /* points */
    size_t point[VS_PHOTO_POINTS_MAX];
    double clear_nits[VS_PHOTO_POINTS_MAX]; /* of points that the lamps light; NaN: others */
    double k[NODES];                        /* [1/m] ascending, the first 0 */
    node *node;                             /* NODES x points */
} table;

/* ---- the table ---- */

static vs_status fill_node(table *t, vs_predictor *predictor, size_t shot, size_t i) {
    const vs_scene *scene = predictor->scene;
    static const vs_predict_part points = {.points = true};
    vs_shot_prediction prediction;
    double *rooms = malloc(scene->room_count * sizeof *rooms);
    vs_status status =
        rooms ? vs_held_rooms(scene, &scene->shot[shot], &predictor->haze, t->k[i], rooms)
              : VS_ERR_MEMORY;
    if (status == VS_OK) {
        status = vs_predict_part_of_shot(predictor, shot, &points, rooms, &prediction);
    }
    free(rooms);
    if (status != VS_OK) {
        return status;
    }
    for (size_t p = 0; p < t->count; p++) {
        const vs_point_prediction *of = &prediction.point[t->point[p]];
        node *n = &t->node[i * t->count + p];
        bool lit_by_lamps = scene->shot[shot].point[t->point[p]].kind == VS_POINT_REFLECTANCE;
        t->clear_nits[p] = lit_by_lamps ? vs_bands_luminance(of->clear_nits) : (double)NAN;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double clear = of->clear_nits.v[band], left = of->surface_nits.v[band];
            double lit = clear > 0 && left > 0 ? left / clear : 1;
            n->log_kept.v[band] = log(fmax(of->transmission.v[band] * lit, 1e-300));
            n->veil.v[band] = of->veil_nits.v[band];
        }
    }
    vs_shot_prediction_free(&prediction);
    return VS_OK;
}

/* Densities from 0 to the thickest, evenly spaced in the logarithm but for one: the likely one. */
static void choose_nodes(table *t, double most_per_m, double likely_per_m) {
    double first = NODE_LEAST * most_per_m, ratio = pow(1 / NODE_LEAST, 1.0 / (NODES - 2));
    size_t nearest = 1;
    t->k[0] = 0;
    for (size_t i = 1; i < NODES; i++) {
        t->k[i] = first * pow(ratio, (double)(i - 1));
        bool nearer = fabs(log(t->k[i] / likely_per_m)) < fabs(log(t->k[nearest] / likely_per_m));
        nearest = nearer ? i : nearest;
    }
    if (nearest > 1 && nearest + 1 < NODES) {
        t->k[nearest] = likely_per_m;
    }
}

static double furthest_m(const vs_scene *scene, size_t shot, const table *t) {
    const vs_scene_shot *of = &scene->shot[shot];
    double most = 0;
    for (size_t p = 0; p < t->count; p++) {
        vs_vec3 way = vs_vec3_sub(of->point[t->point[p]].at_m, scene->camera[of->camera].at_m);
        most = fmax(most, vs_vec3_length(way));
    }
    return most;
}

vs_status vs_photo_model_init(vs_photo_model *model, vs_predictor *predictor, size_t shot,
                              const size_t *point, size_t count, double likely_per_m) {
    model->kept = NULL;
    if (count < 1 || count > VS_PHOTO_POINTS_MAX || !(likely_per_m > 0)) {
        return VS_ERR_DOMAIN;
    }
    table *t = calloc(1, sizeof *t);
    model->kept = t;
    if (!t) {
        return VS_ERR_MEMORY;
    }
    t->count = count;
    memcpy(t->point, point, count * sizeof *point);
    t->node = calloc(NODES * count, sizeof *t->node);
    vs_status status = t->node ? VS_OK : VS_ERR_MEMORY;
    choose_nodes(t, DEPTH_MOST / furthest_m(predictor->scene, shot, t), likely_per_m);
    for (size_t i = 0; i < NODES && status == VS_OK; i++) {
        status = fill_node(t, predictor, shot, i);
    }
    if (status != VS_OK) {
        vs_photo_model_free(model);
    }
    return status;
}

void vs_photo_model_free(vs_photo_model *model) {
    table *t = model->kept;
    if (t) {
        free(t->node);
        free(t);
    }
    model->kept = NULL;
}

/* Weights of the four nodes about a density (Lagrange); *first is the first of them. */
static void weights_at(const table *t, double k, size_t *first, double weight[4]) {
    size_t i = 1;
    while (i + 3 < NODES && t->k[i + 1] < k) {
        i++;
    }
    *first = i - 1;
    for (size_t a = 0; a < 4; a++) {
        weight[a] = 1;
        for (size_t b = 0; b < 4; b++) {
            weight[a] *= a == b ? 1 : (k - t->k[i - 1 + b]) / (t->k[i - 1 + a] - t->k[i - 1 + b]);
        }
    }
}

/* A point at any density: its light over that without haze (panes and nets included), and its
 * veil. */
static void point_at(const table *t, double k, size_t p, vs_bands *kept, vs_bands *veil) {
    size_t first;
    double weight[4];
    weights_at(t, k, &first, weight);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double log_kept = 0, nits = 0;
        for (size_t a = 0; a < 4; a++) {
            const node *n = &t->node[(first + a) * t->count + p];
            log_kept += weight[a] * n->log_kept.v[band];
            nits += weight[a] * n->veil.v[band];
        }
        kept->v[band] = exp(log_kept - t->node[p].log_kept.v[band]);
        veil->v[band] = fmax(nits, 0);
    }
}

/* ---- the fit ---- */

typedef struct {
    const table *t;
    const vs_photo_patch *patch;
    const size_t *of; /* the table's point of each patch */
    const bool *used;
    size_t count;
    vs_bands weight[VS_PHOTO_POINTS_MAX];
    double likely_ratio, ratio_weight;  /* of the veil, by the clear photo; weight 0: unknown */
    double veil_ratio;                  /* of the last sum */
    double square[VS_PHOTO_POINTS_MAX]; /* by patch */
    double goal;                        /* the sum at the interval's ends */
} fit;

/* The inverse variance of each equation at one fixed density: were the weights to move with the
 * fit, they would draw it to where they are small. */
static void set_weights(fit *f, double k) {
    for (size_t i = 0; i < f->count; i++) {
        vs_bands kept, veil;
        point_at(f->t, k, f->of[i], &kept, &veil);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            const vs_photo_patch *p = &f->patch[i];
            double sd = hypot(p->hazed_sd.v[band], p->clear_sd.v[band] * kept.v[band]);
            sd = hypot(sd, MODEL_SD * p->hazed.v[band]);
            f->weight[i].v[band] = 1 / (sd * sd);
        }
    }
}

/* How much brighter the lamps are than the scene's, from what they light in the clear photo; the
 * veil is brighter by about as much. The median of the points, as their reflectances may be off. */
static void expect_ratio(fit *f) {
    double ratio[VS_PHOTO_POINTS_MAX];
    size_t count = 0;
    for (size_t i = 0; i < f->count; i++) {
        double nits = f->t->clear_nits[f->of[i]];
        if (f->used[i] && nits > 0) {
            ratio[count++] = vs_bands_luminance(f->patch[i].clear) / nits;
        }
    }
    double median = vs_median(ratio, count);
    f->likely_ratio = count > 0 ? median : 0;
    f->ratio_weight = count > 0 ? 1 / (VEIL_SD * median * VEIL_SD * median) : 0;
}

/* The weighted sum of squares at a density, with the best brightness of the veil. */
static double sum_at(double k, void *context) {
    fit *f = context;
    vs_bands kept, veil[VS_PHOTO_POINTS_MAX] = {{{0}}}, left[VS_PHOTO_POINTS_MAX] = {{{0}}};
    double lv = f->ratio_weight * f->likely_ratio, vv = f->ratio_weight;
    for (size_t i = 0; i < f->count; i++) {
        point_at(f->t, k, f->of[i], &kept, &veil[i]);
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double w = f->used[i] ? f->weight[i].v[band] : 0, v = veil[i].v[band];
            left[i].v[band] = f->patch[i].hazed.v[band] - f->patch[i].clear.v[band] * kept.v[band];
            lv += w * left[i].v[band] * v;
            vv += w * v * v;
        }
    }
    f->veil_ratio = vv > 0 ? fmax(lv / vv, 0) : 0;
    double sum = f->ratio_weight * pow(f->veil_ratio - f->likely_ratio, 2);
    for (size_t i = 0; i < f->count; i++) {
        f->square[i] = 0;
        for (int band = 0; band < VS_BAND_COUNT; band++) {
            double off = left[i].v[band] - f->veil_ratio * veil[i].v[band];
            f->square[i] += f->weight[i].v[band] * off * off;
        }
        sum += f->used[i] ? f->square[i] : 0;
    }
    return sum;
}

/* Density number i of the scan. */
static double scanned(const fit *f, int i) {
    double share = (double)i / SCAN;
    return f->t->k[NODES - 1] * share * share;
}

/* The lowest sum: a scan, then Brent's method between its neighbours. at_end: it is at the
 * thickest density */
static double lowest(fit *f, double *k, bool *at_end) {
    double best = INFINITY;
    int at = 0;
    for (int i = 0; i <= SCAN; i++) {
        double sum = sum_at(scanned(f, i), f);
        if (sum < best) {
            best = sum;
            at = i;
        }
    }
    *at_end = at == SCAN;
    *k = scanned(f, at);
    if (at > 0 && at < SCAN) {
        vs_minimum found;
        if (vs_minimum_brent(sum_at, f, scanned(f, at - 1), *k, scanned(f, at + 1), 1e-6, -INFINITY,
                             &found) == VS_OK) {
            *k = found.x;
        }
    }
    return sum_at(*k, f);
}

static double over_goal(double k, void *context) {
    fit *f = context;
    return sum_at(k, f) - f->goal;
}

/* Where the sum crosses the goal between two densities, the first of which is over it. */
static double passes(fit *f, double over, double under) {
    double x = NAN;
    vs_status status =
        vs_root_brent(over_goal, f, fmin(over, under), fmax(over, under), 1e-6, 1e-9, &x);
    return status == VS_OK ? x : over;
}

/* The outermost density under the goal, as there may be a second minimum.
 * from  0 or SCAN
 * best  the best density */
static double outermost(fit *f, int from, double best) {
    int step = from == 0 ? 1 : -1, i = from;
    while (i >= 0 && i <= SCAN && (scanned(f, i) - best) * step < 0 &&
           over_goal(scanned(f, i), f) > 0) {
        i += step;
    }
    if (i == from) {
        return scanned(f, from);
    }
    bool past = (scanned(f, i) - best) * step >= 0;
    return passes(f, scanned(f, i - step), past ? best : scanned(f, i));
}

/* Leaves out the patch that is far off all others; false if there is none. */
static bool leave_out(fit *f, bool *used) {
    double sum = 0, most = 0;
    size_t worst = 0, count = 0;
    for (size_t i = 0; i < f->count; i++) {
        if (used[i]) {
            count++;
            sum += f->square[i];
            if (f->square[i] > most) {
                most = f->square[i];
                worst = i;
            }
        }
    }
    if (count < LEFT_OUT_LEAST ||
        !(most > LEFT_OUT_RATIO * LEFT_OUT_RATIO * (sum - most) / (double)(count - 1))) {
        return false;
    }
    used[worst] = false;
    return true;
}

/* The interval: by how much the sum may rise. The assumed variances count like VARIANCE_COUNTS
 * further equations that agree with them, beside the residuals of the present ones. */
static void find_interval(fit *f, double sum, vs_photo_reading *r) {
    double known = f->ratio_weight > 0 ? 1 : 2;
    double freedom = VARIANCE_COUNTS + (double)(VS_BAND_COUNT * r->used_count) - known;
    double t = vs_student_quantile(INTERVAL_SHARE, freedom);
    double most = f->t->k[NODES - 1];
    f->goal = sum + t * t * (VARIANCE_COUNTS + sum) / freedom;
    r->low_per_m = outermost(f, 0, r->extinction_per_m);
    r->high_per_m = outermost(f, SCAN, r->extinction_per_m);
    if (r->high_per_m >= most) {
        r->high_per_m = INFINITY;
    }
}

static double off_share(const fit *f, const vs_photo_reading *r) {
    double sum = 0;
    for (size_t i = 0; i < f->count; i++) {
        vs_bands kept, veil;
        point_at(f->t, r->extinction_per_m, f->of[i], &kept, &veil);
        for (int band = 0; band < VS_BAND_COUNT && f->used[i]; band++) {
            double seen = f->patch[i].hazed.v[band];
            double off =
                f->patch[i].clear.v[band] * kept.v[band] + r->veil_ratio * veil.v[band] - seen;
            sum += off * off / (seen * seen);
        }
    }
    return sqrt(sum / (double)(VS_BAND_COUNT * r->used_count));
}

static bool sound(const table *t, const vs_photo_patch *patch, size_t count, size_t *of) {
    bool good = count <= VS_PHOTO_POINTS_MAX;
    for (size_t i = 0; good && i < count; i++) {
        of[i] = 0;
        while (of[i] < t->count && t->point[of[i]] != patch[i].point) {
            of[i]++;
        }
        good = of[i] < t->count;
        for (int band = 0; good && band < VS_BAND_COUNT; band++) {
            good = patch[i].clear.v[band] > 0 && patch[i].hazed.v[band] > 0 &&
                   patch[i].clear_sd.v[band] >= 0 && patch[i].hazed_sd.v[band] >= 0;
        }
    }
    return good;
}

vs_status vs_photo_read(const vs_photo_model *model, const vs_photo_patch *patch, size_t count,
                        vs_photo_reading *reading) {
    const table *t = model->kept;
    size_t of[VS_PHOTO_POINTS_MAX];
    memset(reading, 0, sizeof *reading);
    reading->extinction_per_m = reading->low_per_m = reading->high_per_m = NAN;
    if (!sound(t, patch, count, of)) {
        return VS_ERR_DOMAIN;
    }
    if (count < 2) {
        return VS_ERR_INPUT;
    }
    fit f = {.t = t, .patch = patch, .of = of, .used = reading->used, .count = count};
    bool at_end;
    double k, sum;
    memset(reading->used, true, count * sizeof *reading->used);
    reading->used_count = count + 1;
    do {
        reading->used_count--;
        expect_ratio(&f);
        set_weights(&f, 0);
        lowest(&f, &k, &at_end);
        set_weights(&f, k);
        sum = lowest(&f, &k, &at_end);
    } while (leave_out(&f, reading->used));
    if (at_end) {
        return VS_ERR_UNREACHABLE;
    }
    reading->extinction_per_m = k;
    reading->veil_ratio = f.veil_ratio;
    reading->off_share = off_share(&f, reading);
    if (!(reading->off_share <= OFF_MOST)) {
        return VS_ERR_UNREACHABLE;
    }
    find_interval(&f, sum, reading);
    return VS_OK;
}
