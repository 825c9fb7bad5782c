/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Glow: how far around a bright source its own veil stays over a tenth of middle grey, and over
 * grey. Measured on the camera's lines of sight to the left, right, above and below, and averaged.
 * The veil near a lamp falls as 1/angle (the airlight integral of Kulla & Fajardo 2012, Comput.
 * Graph. Forum 31, 1519): so its logarithm is nearly linear in that of the angle. */
#include <math.h>

#include "base/sorted.h"
#include "shot/sight/glow.h"

#define TURN_MIN_RAD 1e-4 /* [rad] closer is the source itself */
#define TURN_MAX_RAD (VS_PI / 2)
#define TURN_FIRST   0.05 /* [rad] where the search begins: of the order of a lamp's glow */
#define WIDTH        5e-4 /* [1] in the logarithm: an angle is found to 0.05 % */
#define NEAR_ANGLE   1e-4 /* [1] estimates this near to a sample, */
#define NEAR_VEIL    3e-4 /* [1] whose veil is this near to the level, are taken */
#define OVERSHOOT    1.1  /* [1] beyond the estimate, so that the level lies between two samples */
#define STEP_MIN     3e-4 /* [1] of the logarithm: below WIDTH, so that a good guess ends at once */
#define SLOPE_MIN    0.5 /* [1] falls of a straight piece outside the samples, about the 1 of thin */
#define SLOPE_MAX    3.0 /* haze */
#define CLIFF        4.0 /* [1] a steeper fall is the edge of something: bisect there */
#define STRAIGHT_MAX 6   /* estimates at a level before every other step is a bisection */
#define TRIES_MAX    46  /* per level: twice the bisections of the whole range, and some more */
#define LEVELS       2

/* A line of sight beside the source: logarithms of angle [rad] and veil [cd/m2]. */
typedef struct {
    double angle, veil;
} sample;

/* The sampled lines on one side, from the source outwards. */
typedef struct {
    const vs_camera_setup *setup;
    const vs_emitter *emitter;
    vs_vec3 direction, side;
    sample seen[LEVELS * (TRIES_MAX + 1)];
    int count;
} fan;

static vs_status veil_beside(const fan *f, double turn_rad, double *nits) {
    vs_bands veil;
    vs_vec3 way = vs_vec3_turned(f->direction, f->side, turn_rad);
    vs_camera_ray ray =
        vs_camera_ray_along(&f->setup->hazed, f->setup->camera->at_m, vs_vec3_unit(way), INFINITY);
    vs_status status = vs_camera_setup_veil_of(f->setup, &ray, f->emitter, &veil);
    *nits = vs_bands_luminance(veil);
    return status;
}

static vs_status look_at(fan *f, double angle) {
    double nits;
    vs_status status = veil_beside(f, exp(angle), &nits);
    sample *place = vs_sorted_place(f->seen, (size_t)f->count++, sizeof *place, angle);
    *place = (sample){angle, log(nits)};
    return status;
}

/* The slope of the veil between two samples, both in logarithms; none where they are one, at the
 * end of all angles. */
static double fall_between(const sample *a, const sample *b) {
    double apart = b->angle - a->angle;
    return apart > 0 ? (a->veil - b->veil) / apart : 0;
}

/* The next angle beyond all samples, past where linear extrapolation meets the level. */
static double step_from(const fan *f, double level, bool outwards) {
    const sample *end = outwards ? &f->seen[f->count - 1] : &f->seen[0];
    double fall =
        f->count < 2 ? 1 : fall_between(outwards ? end - 1 : end, outwards ? end : end + 1);
    double miss = fabs(end->veil - level) / fmin(fmax(fall, SLOPE_MIN), SLOPE_MAX);
    double step = OVERSHOOT * miss + STEP_MIN;
    /* at least twice the last step, to get past a flat veil quickly */
    if (f->count > 1) {
        step = fmax(step, outwards ? end->angle - end[-1].angle : end[1].angle - end->angle);
    }
    return outwards ? fmin(end->angle + step, log(TURN_MAX_RAD))
                    : fmax(end->angle - step, log(TURN_MIN_RAD));
}

/* Where a parabola through three samples, angle as a function of veil, meets the level; NaN if the
 * veil does not fall monotonically. */
static double parabola(const sample *s, double level) {
    if (!(s[0].veil > s[1].veil && s[1].veil > s[2].veil && isfinite(s[2].veil))) {
        return (double)NAN;
    }
    double a = level - s[0].veil, b = level - s[1].veil, c = level - s[2].veil;
    double ab = s[1].veil - s[0].veil, ac = s[2].veil - s[0].veil, bc = s[2].veil - s[1].veil;
    return s[0].angle * b * c / (ab * ac) - s[1].angle * a * c / (ab * bc) +
           s[2].angle * a * b / (ac * bc);
}

/* Where the veil falls through the level between samples under - 1 and under; NaN: unknown. */
static double estimate(const fan *f, double level, int under) {
    const sample *low = &f->seen[under - 1], *high = &f->seen[under];
    double fall = fall_between(low, high);
    if (!(fall <= CLIFF)) {
        return (double)NAN;
    }
    bool inner_next = under >= 2 && (under + 1 >= f->count ||
                                     low->angle - low[-1].angle < high[1].angle - high->angle);
    double best = (double)NAN;
    if (inner_next || under + 1 < f->count) {
        best = parabola(inner_next ? low - 1 : low, level);
    }
    if (!(best >= low->angle && best <= high->angle)) {
        best = low->angle + (low->veil - level) / fall;
    }
    return best;
}

static bool near_enough(const sample *s, double angle, double level) {
    return fabs(s->angle - angle) <= NEAR_ANGLE && fabs(s->veil - level) <= NEAR_VEIL;
}

/* The first sample under the level; count if none. */
static int first_under(const fan *f, double level) {
    int i = 0;
    while (i < f->count && f->seen[i].veil >= level) {
        i++;
    }
    return i;
}

/* Between two samples: the next angle to sample, or the answer. */
static bool settled(const fan *f, double level, int under, int tries, double *angle) {
    const sample *low = &f->seen[under - 1], *high = &f->seen[under];
    double best = estimate(f, level, under), middle = (low->angle + high->angle) / 2;
    bool done = high->angle - low->angle <= WIDTH || near_enough(low, best, level) ||
                near_enough(high, best, level);
    bool halve = isnan(best) || (!done && tries > STRAIGHT_MAX && tries % 2 == 0);
    *angle = halve ? middle : best;
    return done;
}

/* Whether the level is met nowhere in the range: all samples are on one side of it, up to the
 * range's end. */
static bool met_nowhere(const fan *f, int under) {
    return under == 0 ? f->seen[0].angle <= log(TURN_MIN_RAD)
                      : under == f->count && f->seen[f->count - 1].angle >= log(TURN_MAX_RAD);
}

/* The angle within which the veil is over a level on one side: where it falls through it, between
 * the first sample below it and the one before; 0 if it is never over, the largest angle if it
 * always is.
 * reach_rad  in: where to begin, NaN if nothing is known */
static vs_status find_reach(fan *f, double level, double *reach_rad) {
    double next = log(fmax(*reach_rad, TURN_MIN_RAD));
    vs_status status = isnan(*reach_rad) ? VS_OK : look_at(f, next);
    for (int tries = 0; tries < TRIES_MAX && status == VS_OK; tries++) {
        int under = first_under(f, level);
        if (met_nowhere(f, under)) {
            *reach_rad = under == 0 ? 0 : TURN_MAX_RAD;
            return VS_OK;
        }
        if (under == 0 || under == f->count) {
            next = step_from(f, level, under > 0);
        } else if (settled(f, level, under, tries, &next)) {
            break;
        }
        status = look_at(f, next);
    }
    *reach_rad = exp(next);
    return status;
}

vs_status vs_camera_setup_glow(const vs_camera_setup *setup, const vs_emitter *emitter,
                               vs_vec3 at_m, vs_glow_prediction *glow) {
    double grey = log(vs_camera_grey_nits(setup->camera)), tenth_rad = TURN_FIRST, grey_rad = NAN;
    fan f = {.setup = setup, .emitter = emitter};
    f.direction = vs_vec3_unit(vs_vec3_sub(at_m, setup->camera->at_m));
    vs_vec3 right = vs_vec3_unit(vs_vec3_cross(f.direction, setup->view.up));
    vs_vec3 up = vs_vec3_cross(right, f.direction);
    const vs_vec3 side[4] = {right, up, vs_vec3_scale(right, -1), vs_vec3_scale(up, -1)};
    vs_status status = VS_OK;
    glow->tenth_rad = glow->grey_rad = 0;
    for (int i = 0; i < 4 && status == VS_OK; i++) {
        f.side = side[i];
        f.count = 0;
        status = find_reach(&f, grey - log(10), &tenth_rad);
        glow->tenth_rad += tenth_rad / 4;
        if (status == VS_OK) {
            status = find_reach(&f, grey, &grey_rad);
            glow->grey_rad += grey_rad / 4;
        }
    }
    return status;
}
