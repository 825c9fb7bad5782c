/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See reading_card.h. */
#include "shot/reading/reading_card.h"

#include <math.h>

#include "veilstop/base/root.h"

#define FIRST_M   0.1 /* [m] shortest distance at which a card is read */
#define FAR_DEPTH 6.0 /* [1] optical depth beyond which no card is read */
#define STEPS     600 /* distances in the scan: our choice */

/* Variance of ln(white - black), each with relative deviation u: u^2 (w^2 + b^2)/(w - b)^2 (JCGM
 * 100:2008, 5.1.2). */
static double log_variance(double u, double white, double black) {
    double difference = white - black;
    return u * u * (white * white + black * black) / (difference * difference);
}

static bool to_light(const vs_scene_reading *given, const vs_camera *camera, double figure,
                     double *out) {
    if (!given->percent) {
        *out = figure;
        return true;
    }
    if (!camera ||
        !(figure / 100 <= vs_curve_encode(&camera->curve, vs_camera_clip_linear(camera)))) {
        return false;
    }
    *out = vs_curve_decode(&camera->curve, figure / 100);
    return *out >= 0 && isfinite(*out);
}

static bool patches_are_sound(double white, double black) {
    return white >= VS_READING_LEAST && white <= VS_READING_MOST && black >= 0 && white > black;
}

vs_status vs_reading_card(const vs_scene_reading *given, const vs_camera *camera,
                          vs_reading_card_light *out) {
    bool good = to_light(given, camera, given->clear_white, &out->clear_white) &&
                to_light(given, camera, given->clear_black, &out->clear_black) &&
                to_light(given, camera, given->hazed_white, &out->hazed_white) &&
                to_light(given, camera, given->hazed_black, &out->hazed_black) &&
                patches_are_sound(out->clear_white, out->clear_black) &&
                patches_are_sound(out->hazed_white, out->hazed_black);
    if (!good || !(given->distance_m > 0) || !(given->uncertainty_stops > 0)) {
        return VS_ERR_DOMAIN;
    }
    out->kept = (out->hazed_white - out->hazed_black) / (out->clear_white - out->clear_black);
    double u = given->uncertainty_stops * log(2);
    double sd = sqrt(log_variance(u, out->clear_white, out->clear_black) +
                     log_variance(u, out->hazed_white, out->hazed_black));
    return log(out->kept) <= VS_READING_SIGMAS * sd ? VS_OK : VS_ERR_UNREACHABLE;
}

/* For the certainty of a reading with the card at another distance, in the same haze. */
typedef struct {
    const vs_reading_card_light *card;
    double u;      /* relative standard deviation of one figure */
    double lit_m;  /* lamp to card, effectively */
    double k;      /* [1/m] */
    double source; /* luminance of endless haze there: veil = source (1 - T) */
    double clear_variance;
    double longest_m;
} elsewhere;

static double share_at(double distance_m, const elsewhere *e) {
    double depth = e->k * (distance_m + e->lit_m);
    double veil = -e->source * expm1(-e->k * distance_m);
    double white = e->card->clear_white * exp(-depth) + veil;
    double black = e->card->clear_black * exp(-depth) + veil;
    return sqrt(e->clear_variance + log_variance(e->u, white, black)) / depth;
}

static double over_goal(double distance_m, void *context) {
    return share_at(distance_m, context) - VS_READING_GOAL;
}

/* The best distance by a scan, and the first at which the goal is met. */
static void find_distances(const elsewhere *e, vs_reading *out) {
    double first_m = FIRST_M, before_m = first_m;
    double ratio = pow(fmin(FAR_DEPTH / e->k, e->longest_m) / first_m, 1.0 / STEPS);
    out->goal_distance_m = NAN;
    out->best_share = INFINITY;
    for (int i = 0; i <= STEPS; i++) {
        double distance_m = first_m * pow(ratio, i);
        double share = share_at(distance_m, e);
        if (isnan(out->goal_distance_m) && share <= VS_READING_GOAL) {
            elsewhere copy = *e;
            if (i == 0 || vs_root_brent(over_goal, &copy, before_m, distance_m, 1e-6, 0,
                                        &out->goal_distance_m) != VS_OK) {
                out->goal_distance_m = distance_m;
            }
        }
        if (share < out->best_share) {
            out->best_share = share;
            out->best_distance_m = distance_m;
        }
        before_m = distance_m;
    }
}

void vs_reading_judge(const vs_scene_reading *given, const vs_reading_card_light *card,
                      double longest_m, vs_reading *out) {
    double u = given->uncertainty_stops * log(2);
    out->kept = card->kept;
    out->clear_variance = log_variance(u, card->clear_white, card->clear_black);
    out->hazed_variance = log_variance(u, card->hazed_white, card->hazed_black);
    out->sd_per_m = sqrt(out->clear_variance + out->hazed_variance) / out->path_m;
    out->goal_distance_m = out->best_distance_m = out->best_share = NAN;
    if (!(out->extinction_per_m > 0) || !(longest_m > FIRST_M)) {
        return;
    }
    double k = out->extinction_per_m;
    double veil = card->hazed_black - card->clear_black * card->kept;
    elsewhere e = {.card = card,
                   .u = u,
                   .lit_m = fmax(0, -log(card->kept) / k - given->distance_m),
                   .k = k,
                   .source = fmax(0, veil) / -expm1(-k * given->distance_m),
                   .clear_variance = out->clear_variance,
                   .longest_m = longest_m};
    find_distances(&e, out);
}

void vs_reading_blank(vs_reading *out) {
    out->kept = out->log_kept = out->path_m = out->extinction_per_m = out->sd_per_m = NAN;
    out->clear_variance = out->hazed_variance = NAN;
    out->goal_distance_m = out->best_distance_m = out->best_share = NAN;
}
