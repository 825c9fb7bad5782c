/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Camera resectioning: checks of the pairs, starting poses, and the choice among the fits. */
#include "veilstop/camera/match.h"

#include <math.h>
#include <string.h>

#include "camera/match_parts.h"
#include "veilstop/base/robust.h"
#include "veilstop/camera/view.h"

#define TRIPLES_MOST 120  /* our choice */
#define FOCALS       18   /* our choice */
#define FOCAL_LEAST  0.35 /* [1] of the photo's longer side: a fisheye of 12 mm on 36; our choice */
#define FOCAL_STEP   1.2  /* [1] between starts, up to 7.8 sides: 280 mm; our choice */
#define STARTS       12   /* poses that are fitted, of all; our choice */
#define START_SOFT   30   /* [1] of the fit's: at a wrong focal length all pairs are far off */
#define SAME_SHARE   0.02 /* [1] of the distance to the places: fits this close count as one */
#define OUT_SIGMAS   6.0  /* [1] a pair more deviations off than this is left out */
#define MAD_RAYLEIGH                                                                               \
    1.1774 /* [1] median of a distance in the plane over its deviation: sqrt(2 ln 2) */
#define USED_LEAST     5    /* pairs that must stay where some are left out: one more than needed */
#define APART_SHARE    0.01 /* [1] of the longer side: taps are better than that; our choice */
#define LOOSE_DISTANCE 0.15 /* [1] of the distance to the places; our choice */
#define LOOSE_FOCAL    0.15 /* [1] our choice */
#define ALSO_SQUARES   9.0  /* [pixels^2 / tap^2] a fit worse by less than this is as good: 3 sd */
#define IMPOSSIBLE     1.0 /* [soft squares] a pair: by which an impossible place must fit better */
#define FLAT           1e-3 /* [1] thickness over width: thinner sets of places count as plane */

typedef struct {
    vs_match_pose pose;
    double score;
} start;

typedef struct {
    const vs_match_ask *ask;
    start start[STARTS];
    size_t start_count;
    vs_match_fit fit[STARTS];
    size_t fit_count;
    double distance_m; /* of the places from the best start: the scale of lengths */
} search;

/* ---- checks of the pairs ---- */

static bool sound(const vs_match_ask *ask) {
    bool good = ask->count <= VS_MATCH_PAIRS_MAX && ask->width_px > 0 && ask->height_px > 0 &&
                (isnan(ask->focal_px) || (ask->focal_px > 0 && isfinite(ask->focal_px)));
    for (size_t i = 0; good && i < ask->count; i++) {
        const vs_match_pair *p = &ask->pair[i];
        good = isfinite(p->x_px) && isfinite(p->y_px) && isfinite(p->at_m.x) &&
               isfinite(p->at_m.y) && isfinite(p->at_m.z);
    }
    return good;
}

static bool find_twice(const vs_match_ask *ask, vs_match *match) {
    for (size_t i = 0; i < ask->count; i++) {
        for (size_t j = 0; j < i; j++) {
            const vs_match_pair *a = &ask->pair[i], *b = &ask->pair[j];
            if (hypot(a->x_px - b->x_px, a->y_px - b->y_px) < 0.5 ||
                vs_vec3_length(vs_vec3_sub(a->at_m, b->at_m)) < 1e-6) {
                match->culprit = j;
                match->other = i;
                return true;
            }
        }
    }
    return false;
}

/* The extent of a set of places (or pixels): the distance of the two furthest apart, how far the
 * others lie off their line, and how far off the plane through these. */
static void widths(const vs_vec3 *p, size_t count, double wide[3]) {
    vs_vec3 along = {0}, off = {0};
    size_t from = 0;
    memset(wide, 0, 3 * sizeof *wide);
    for (size_t i = 0; i < count; i++) {
        for (size_t j = 0; j < i; j++) {
            vs_vec3 d = vs_vec3_sub(p[i], p[j]);
            if (vs_vec3_length(d) > wide[0]) {
                wide[0] = vs_vec3_length(d);
                along = vs_vec3_unit(d);
                from = j;
            }
        }
    }
    for (size_t i = 0; i < count; i++) {
        vs_vec3 d = vs_vec3_sub(p[i], p[from]);
        d = vs_vec3_along(d, along, -vs_vec3_dot(d, along));
        if (vs_vec3_length(d) > wide[1]) {
            wide[1] = vs_vec3_length(d);
            off = vs_vec3_unit(d);
        }
    }
    for (size_t i = 0; i < count; i++) {
        vs_vec3 d = vs_vec3_sub(p[i], p[from]);
        d = vs_vec3_along(d, along, -vs_vec3_dot(d, along));
        d = vs_vec3_along(d, off, -vs_vec3_dot(d, off));
        wide[2] = fmax(wide[2], vs_vec3_length(d));
    }
}

static vs_match_outcome judge_pairs(const vs_match_ask *ask, vs_match *match, bool *flat) {
    vs_vec3 place[VS_MATCH_PAIRS_MAX], pixel[VS_MATCH_PAIRS_MAX];
    double place_wide[3], pixel_wide[3];
    if (ask->count < (isnan(ask->focal_px) ? 4u : 3u)) {
        return VS_MATCH_TOO_FEW;
    }
    if (find_twice(ask, match)) {
        return VS_MATCH_TWICE;
    }
    for (size_t i = 0; i < ask->count; i++) {
        vs_vec3 p = {ask->pair[i].x_px, ask->pair[i].y_px, 0};
        place[i] = ask->pair[i].at_m;
        pixel[i] = p;
    }
    widths(place, ask->count, place_wide);
    widths(pixel, ask->count, pixel_wide);
    *flat = place_wide[2] < FLAT * place_wide[0];
    if (place_wide[1] < 0.01 * place_wide[0] || pixel_wide[1] < 0.01 * pixel_wide[0]) {
        return VS_MATCH_IN_A_LINE;
    }
    return pixel_wide[0] < VS_MATCH_SPREAD * hypot(ask->width_px, ask->height_px) ? VS_MATCH_CLOSE
                                                                                  : VS_MATCH_FOUND;
}

/* ---- where to start ---- */

static double distance_of(const vs_match_ask *ask, const vs_match_pose *pose) {
    double sum = 0;
    for (size_t i = 0; i < ask->count; i++) {
        sum += vs_vec3_length(vs_vec3_sub(ask->pair[i].at_m, pose->at_m));
    }
    return sum / (double)ask->count;
}

static bool possible(const vs_match_ask *ask, const vs_match_pose *pose) {
    return pose->up.z > 0 && (!ask->possible || ask->possible(ask->context, pose->at_m));
}

static bool same_place(const vs_match_pose *a, const vs_match_pose *b, double distance_m) {
    return vs_vec3_length(vs_vec3_sub(a->at_m, b->at_m)) < SAME_SHARE * distance_m &&
           vs_vec3_dot(a->forward, b->forward) > 0.99;
}

/* Keeps the best poses, best first, no two with one place and focal length. */
static void keep_start(search *s, const vs_match_pose *pose) {
    double soft = START_SOFT * vs_match_soft_px(s->ask), score = 0;
    for (size_t i = 0; i < s->ask->count; i++) {
        double d = vs_match_off_squared(s->ask, pose, i);
        score += log1p(fmin(d, 1e12) / (soft * soft));
    }
    /* impossible poses rank behind possible ones, but are kept */
    score += possible(s->ask, pose) ? 0 : 1;
    double distance_m = distance_of(s->ask, pose);
    size_t at = 0;
    while (at < s->start_count && s->start[at].score <= score) {
        if (same_place(&s->start[at].pose, pose, distance_m)) {
            return;
        }
        at++;
    }
    if (at == STARTS) {
        return;
    }
    size_t end = at; /* the worse pose at the same place, which this one replaces */
    while (end < s->start_count && !same_place(&s->start[end].pose, pose, distance_m)) {
        end++;
    }
    if (end == s->start_count) {
        s->start_count += s->start_count < STARTS;
        end = s->start_count - 1;
    }
    memmove(&s->start[at + 1], &s->start[at], (end - at) * sizeof *s->start);
    s->start[at].pose = *pose;
    s->start[at].score = score;
}

static void start_from(search *s, const size_t index[3]) {
    const vs_match_ask *ask = s->ask;
    vs_match_pose pose[VS_MATCH_POSES_OF_THREE];
    bool known = !isnan(ask->focal_px);
    double focal_px = known ? ask->focal_px : FOCAL_LEAST * fmax(ask->width_px, ask->height_px);
    for (int k = 0; k < (known ? 1 : FOCALS); k++, focal_px *= FOCAL_STEP) {
        size_t count = vs_match_three(ask, index, focal_px, pose);
        for (size_t i = 0; i < count; i++) {
            keep_start(s, &pose[i]);
        }
    }
}

/* From every triple or, of many, from evenly spaced ones. */
static void find_starts(search *s) {
    size_t n = s->ask->count, all = n * (n - 1) * (n - 2) / 6, at = 0;
    size_t stride = (all + TRIPLES_MOST - 1) / TRIPLES_MOST;
    size_t t[3];
    for (t[0] = 0; t[0] < n; t[0]++) {
        for (t[1] = t[0] + 1; t[1] < n; t[1]++) {
            for (t[2] = t[1] + 1; t[2] < n; t[2]++) {
                if (at++ % stride == 0) {
                    start_from(s, t);
                }
            }
        }
    }
}

/* ---- the choice among the fits ---- */

static bool in_front(const vs_match_ask *ask, const bool *used, const vs_match_pose *pose) {
    for (size_t i = 0; i < ask->count; i++) {
        if ((!used || used[i]) && isinf(vs_match_off_squared(ask, pose, i))) {
            return false;
        }
    }
    return true;
}

/* Fits each start; those that end at one place are one fit. */
static vs_status fit_starts(search *s) {
    for (size_t i = 0; i < s->start_count; i++) {
        vs_match_fit *fit = &s->fit[s->fit_count];
        vs_status status = vs_match_fit_pose(s->ask, NULL, true, &s->start[i].pose, fit);
        if (status == VS_ERR_MEMORY) {
            return status;
        }
        bool is_new = status == VS_OK && isfinite(fit->pose.focal_px);
        for (size_t k = 0; is_new && k < s->fit_count; k++) {
            is_new = !same_place(&s->fit[k].pose, &fit->pose, distance_of(s->ask, &fit->pose));
        }
        s->fit_count += is_new;
    }
    return VS_OK;
}

static double away(const vs_match_ask *ask, const vs_match_pose *pose) {
    return isnan(ask->near_m.x) ? 0 : vs_vec3_length(vs_vec3_sub(pose->at_m, ask->near_m));
}

/* Possible poses first, then those with the least residuals; among equals the nearest to the
 * hint. */
static size_t best_fit(const search *s) {
    size_t best = VS_MATCH_PAIRS_MAX;
    double least = INFINITY;
    for (size_t i = 0; i < s->fit_count; i++) {
        double sum = s->fit[i].sum +
                     (possible(s->ask, &s->fit[i].pose) ? 0 : IMPOSSIBLE * (double)s->ask->count);
        least = fmin(least, sum);
    }
    for (size_t i = 0; i < s->fit_count; i++) {
        double sum = s->fit[i].sum +
                     (possible(s->ask, &s->fit[i].pose) ? 0 : IMPOSSIBLE * (double)s->ask->count);
        /* the softened sum is in units of the softening */
        bool as_well = sum <= least + 1e-9 + (s->ask->count == 3 ? 1e-6 : 0);
        if (as_well && (best == VS_MATCH_PAIRS_MAX ||
                        away(s->ask, &s->fit[i].pose) < away(s->ask, &s->fit[best].pose))) {
            best = i;
        }
    }
    return best;
}

/* Which pairs agree with a pose: the others are more than six deviations off, by the median of
 * all; only where enough remain. */
static void choose_used(const vs_match_ask *ask, const vs_match_pose *pose, vs_match *match) {
    double off[VS_MATCH_PAIRS_MAX] = {0}, sorted[VS_MATCH_PAIRS_MAX];
    size_t stay = 0;
    for (size_t i = 0; i < ask->count; i++) {
        sorted[i] = off[i] = sqrt(fmin(vs_match_off_squared(ask, pose, i), 1e12));
    }
    double sigma = vs_median(sorted, ask->count) / MAD_RAYLEIGH;
    double most = fmax(OUT_SIGMAS * sigma, 4 * vs_match_soft_px(ask));
    for (size_t i = 0; i < ask->count; i++) {
        match->used[i] = off[i] <= most;
        stay += match->used[i];
    }
    match->used_count = stay;
    if (stay < USED_LEAST || 3 * stay < 2 * ask->count) { /* too many to be slips: all are used */
        memset(match->used, true, ask->count * sizeof *match->used);
        match->used_count = ask->count;
    }
}

static void measure(const vs_match_ask *ask, const vs_match_fit *fit, vs_match *match) {
    double sum = 0, worst = -1;
    match->pose = fit->pose;
    for (size_t i = 0; i < ask->count; i++) {
        match->off_px[i] = sqrt(fmin(vs_match_off_squared(ask, &fit->pose, i), 1e12));
        if (match->used[i]) {
            sum += match->off_px[i] * match->off_px[i];
            if (match->off_px[i] > worst) {
                worst = match->off_px[i];
                match->culprit = i;
            }
        }
    }
    double parameters = isnan(ask->focal_px) ? 7 : 6, n = (double)match->used_count;
    double spare = 2 * n - parameters;
    match->residual_px = sqrt(sum / n);
    double tap = fmax(VS_MATCH_TAP_PX, spare > 0 ? sqrt(sum / spare) : 0);
    match->at_sd_m.x = tap * sqrt(fit->variance[0]);
    match->at_sd_m.y = tap * sqrt(fit->variance[1]);
    match->at_sd_m.z = tap * sqrt(fit->variance[2]);
    match->aim_sd_rad = tap * sqrt(fit->variance[3] + fit->variance[4]);
    match->roll_sd_rad = tap * sqrt(fit->variance[5]);
    match->focal_sd = tap * sqrt(fit->variance[6]);
}

static vs_match_outcome judge_fit(const vs_match_ask *ask, const vs_match *match, bool flat) {
    double most =
        fmax(4 * vs_match_soft_px(ask), APART_SHARE * fmax(ask->width_px, ask->height_px));
    if (!in_front(ask, match->used, &match->pose)) {
        return VS_MATCH_NO_FIT;
    }
    if (!(match->residual_px <= most)) {
        return VS_MATCH_APART;
    }
    if (!(vs_vec3_length(match->at_sd_m) <= LOOSE_DISTANCE * distance_of(ask, &match->pose)) ||
        !(match->focal_sd <= LOOSE_FOCAL)) {
        return flat ? VS_MATCH_LOOSE_SQUARE : VS_MATCH_LOOSE;
    }
    return possible(ask, &match->pose) ? VS_MATCH_FOUND : VS_MATCH_IMPOSSIBLE;
}

static double plain_sum(const vs_match_ask *ask, const bool *used, const vs_match_pose *pose) {
    double sum = 0;
    for (size_t i = 0; i < ask->count; i++) {
        sum += used[i] ? vs_match_off_squared(ask, pose, i) : 0;
    }
    return sum;
}

/* Further possible places that fit the pairs in use about as well. */
static vs_status find_others(const search *s, size_t best, vs_match *match) {
    double sum = plain_sum(s->ask, match->used, &match->pose);
    double tap = fmax(VS_MATCH_TAP_PX, match->residual_px);
    for (size_t i = 0; i < s->fit_count && match->other_count < VS_MATCH_OTHERS_MAX; i++) {
        vs_match_fit fit;
        if (i == best || !possible(s->ask, &s->fit[i].pose)) {
            continue;
        }
        vs_status status = vs_match_fit_pose(s->ask, match->used, false, &s->fit[i].pose, &fit);
        if (status == VS_ERR_MEMORY) {
            return status;
        }
        if (status == VS_OK && possible(s->ask, &fit.pose) &&
            in_front(s->ask, match->used, &fit.pose) &&
            !same_place(&fit.pose, &match->pose, distance_of(s->ask, &fit.pose)) &&
            plain_sum(s->ask, match->used, &fit.pose) - sum < ALSO_SQUARES * tap * tap) {
            match->other_pose[match->other_count++] = fit.pose;
        }
    }
    return VS_OK;
}

static vs_status find_camera(const vs_match_ask *ask, bool flat, vs_match *match) {
    search s = {.ask = ask};
    vs_match_fit fit;
    find_starts(&s);
    vs_status status = fit_starts(&s);
    size_t best = best_fit(&s);
    match->outcome = VS_MATCH_NO_FIT;
    if (status != VS_OK || best == VS_MATCH_PAIRS_MAX) {
        return status;
    }
    choose_used(ask, &s.fit[best].pose, match);
    status = vs_match_fit_pose(ask, match->used, false, &s.fit[best].pose, &fit);
    if (status == VS_ERR_MEMORY) {
        return status;
    }
    if (status != VS_OK) { /* a valley without an end: not determined, however good the fit */
        fit = s.fit[best];
        for (size_t i = 0; i < 7; i++) {
            fit.variance[i] = INFINITY;
        }
    }
    measure(ask, &fit, match);
    match->outcome = judge_fit(ask, match, flat);
    return match->outcome == VS_MATCH_FOUND ? find_others(&s, best, match) : VS_OK;
}

vs_status vs_camera_match(const vs_match_ask *ask, vs_match *match) {
    bool flat = false;
    memset(match, 0, sizeof *match);
    if (!sound(ask)) {
        return VS_ERR_DOMAIN;
    }
    match->outcome = judge_pairs(ask, match, &flat);
    return match->outcome == VS_MATCH_FOUND ? find_camera(ask, flat, match) : VS_OK;
}

bool vs_match_pixel(const vs_match_pose *pose, double width_px, double height_px, vs_vec3 at_m,
                    double *x_px, double *y_px) {
    vs_vec3 d = vs_vec3_sub(at_m, pose->at_m);
    double ahead = vs_vec3_dot(d, pose->forward);
    if (!(ahead > 0)) {
        *x_px = *y_px = NAN;
        return false;
    }
    *x_px = width_px / 2 + pose->focal_px * vs_vec3_dot(d, pose->right) / ahead;
    *y_px = height_px / 2 - pose->focal_px * vs_vec3_dot(d, pose->up) / ahead;
    return true;
}

double vs_match_roll_rad(const vs_match_pose *pose) {
    vs_camera level = {.at_m = pose->at_m, .aim_m = vs_vec3_add(pose->at_m, pose->forward)};
    level.focal_m = level.sensor_width_m = level.sensor_height_m = 1;
    vs_view view = vs_view_make(&level);
    return atan2(vs_vec3_dot(pose->right, view.up), vs_vec3_dot(pose->right, view.right));
}
