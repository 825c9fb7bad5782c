/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Candelas of a measured lamp by bilinear interpolation, its lumens and beam angles, and where a
 * ray crosses its table. Sources: ANSI/IES LM-63-19, type C; IES Lighting Handbook, zonal
 * lumens. */
#include "veilstop/light/photometry.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "light/geometry/cone.h"
#include "veilstop/base/units.h"

#define ANGLE_SLACK 1e-9                 /* [rad] rounding of degrees converted to radians */
#define UPRIGHT_SIN 0.017452406437283512 /* [1] sin 1 deg: the aim counts as vertical */

typedef enum { ROTATIONAL, QUADRANT, BILATERAL, UNSYMMETRIC } symmetry;

/* For a checked table, whose last horizontal angle is one of four. */
static symmetry symmetry_of(const vs_photometric_table *table) {
    double last = table->horizontal_rad[table->horizontal_count - 1];
    return last < 1 ? ROTATIONAL : last < 2 ? QUADRANT : last < 4 ? BILATERAL : UNSYMMETRIC;
}

static bool ends_well(const vs_photometric_table *table) {
    static const double end[] = {0, VS_PI / 2, VS_PI, 2 * VS_PI};
    double last = table->horizontal_rad[table->horizontal_count - 1];
    return fabs(last - end[symmetry_of(table)]) <= ANGLE_SLACK;
}

static bool ascends(const double *angle, size_t count) {
    for (size_t i = 1; i < count; i++) {
        if (!(angle[i] > angle[i - 1])) {
            return false;
        }
    }
    return true;
}

vs_status vs_photometric_check(const vs_photometric_table *table) {
    size_t nv = table->vertical_count, nh = table->horizontal_count;
    if (nv < 2 || nh < 1 || !table->vertical_rad || !table->horizontal_rad || !table->candela) {
        return VS_ERR_DOMAIN;
    }
    const double *v = table->vertical_rad, *h = table->horizontal_rad;
    bool vertical = ascends(v, nv) && v[0] >= 0 && v[nv - 1] <= VS_PI + ANGLE_SLACK;
    bool horizontal = ascends(h, nh) && fabs(h[0]) <= ANGLE_SLACK && ends_well(table);
    if (!vertical || !horizontal) {
        return VS_ERR_DOMAIN;
    }
    for (size_t i = 0; i < nv * nh; i++) {
        if (!(table->candela[i] >= 0 && isfinite(table->candela[i]))) {
            return VS_ERR_DOMAIN;
        }
    }
    return VS_OK;
}

vs_photometric_frame vs_photometric_frame_make(vs_vec3 at_m, vs_vec3 aim_m, double roll_rad) {
    static const vs_vec3 east = {1, 0, 0}, nowhere = {NAN, NAN, NAN};
    vs_vec3 nadir = vs_vec3_sub(aim_m, at_m);
    if (vs_vec3_length(nadir) == 0) {
        return (vs_photometric_frame){nowhere, nowhere, nowhere};
    }
    nadir = vs_vec3_unit(nadir);
    vs_vec3 right = {nadir.y, -nadir.x, 0}; /* nadir x up: level, to the right seen from behind */
    if (vs_vec3_length(right) <= UPRIGHT_SIN) {
        right = vs_vec3_along(east, nadir, -nadir.x);
    }
    right = vs_vec3_unit(right);
    vs_vec3 above = vs_vec3_cross(right, nadir);
    vs_photometric_frame frame = {
        nadir,
        vs_vec3_turned(right, above, roll_rad),
        vs_vec3_turned(above, right, -roll_rad),
    };
    return frame;
}

/* A horizontal angle within -pi to 2 pi, folded into the range of the table. */
static double folded(symmetry kind, double horizontal_rad) {
    double h = horizontal_rad < 0 ? horizontal_rad + 2 * VS_PI : horizontal_rad;
    if (kind == ROTATIONAL) {
        return 0;
    }
    if (kind == UNSYMMETRIC) {
        return h;
    }
    h = h > VS_PI ? 2 * VS_PI - h : h;
    return kind == QUADRANT && h > VS_PI / 2 ? VS_PI - h : h;
}

/* The interval that holds x, and how far into it. Most tables have even steps, for which the first
 * guess is right up to rounding. x is within the angles up to rounding. */
static size_t interval(const double *angle, size_t count, double x, double *share) {
    double span = angle[count - 1] - angle[0];
    double guess = (x - angle[0]) * (double)(count - 1) / span;
    size_t i = guess > 0 ? (size_t)guess : 0;
    i = i > count - 2 ? count - 2 : i;
    while (i > 0 && x < angle[i]) {
        i--;
    }
    while (i + 2 < count && x >= angle[i + 1]) {
        i++;
    }
    double into = (x - angle[i]) / (angle[i + 1] - angle[i]);
    *share = into < 0 ? 0 : into > 1 ? 1 : into;
    return i;
}

static double blend(double a, double b, double share) {
    return a + share * (b - a);
}

double vs_photometric_candela_at(const vs_photometric_table *table, double vertical_rad,
                                 double horizontal_rad) {
    size_t nv = table->vertical_count, nh = table->horizontal_count;
    if (isnan(vertical_rad) || isnan(horizontal_rad)) {
        return NAN;
    }
    if (vertical_rad < table->vertical_rad[0] - ANGLE_SLACK ||
        vertical_rad > table->vertical_rad[nv - 1] + ANGLE_SLACK) {
        return 0;
    }
    double up, round = 0;
    size_t v = interval(table->vertical_rad, nv, vertical_rad, &up), h = 0;
    const double *near = table->candela + v;
    if (nh > 1) {
        double turn = horizontal_rad;
        if (!(turn >= -VS_PI && turn <= 2 * VS_PI)) {
            turn = remainder(turn, 2 * VS_PI);
        }
        h = interval(table->horizontal_rad, nh, folded(symmetry_of(table), turn), &round);
        near += h * nv;
    }
    double here = blend(near[0], near[1], up);
    return nh > 1 ? blend(here, blend(near[nv], near[nv + 1], up), round) : here;
}

double vs_photometric_candela(const vs_photometric_table *table, const vs_photometric_frame *frame,
                              vs_vec3 direction) {
    double along = vs_vec3_dot(direction, frame->nadir);
    double x = vs_vec3_dot(direction, frame->c0), y = vs_vec3_dot(direction, frame->c90);
    /* atan2 keeps its digits on the axis, where acos of a cosine loses half of them */
    double vertical = atan2(sqrt(x * x + y * y), along);
    return vs_photometric_candela_at(table, vertical,
                                     table->horizontal_count > 1 ? atan2(y, x) : 0);
}

double vs_photometric_peak_candela(const vs_photometric_table *table) {
    double peak = 0;
    for (size_t i = 0; i < table->vertical_count * table->horizontal_count; i++) {
        peak = fmax(peak, table->candela[i]);
    }
    return peak;
}

/* Mean over the horizontal angles of the candelas at one vertical angle, by trapezoids. */
static double ring_mean(const vs_photometric_table *table, size_t v) {
    const double *h = table->horizontal_rad;
    size_t nh = table->horizontal_count, nv = table->vertical_count;
    if (nh == 1) {
        return table->candela[v];
    }
    double sum = 0;
    for (size_t i = 1; i < nh; i++) {
        double ends = table->candela[(i - 1) * nv + v] + table->candela[i * nv + v];
        sum += ends / 2 * (h[i] - h[i - 1]);
    }
    return sum / (h[nh - 1] - h[0]);
}

double vs_photometric_lumens(const vs_photometric_table *table) {
    const double *v = table->vertical_rad;
    double lumens = 0, below = ring_mean(table, 0);
    for (size_t i = 1; i < table->vertical_count; i++) {
        double above = ring_mean(table, i);
        lumens += 2 * VS_PI * (cos(v[i - 1]) - cos(v[i])) * (below + above) / 2;
        below = above;
    }
    return lumens;
}

/* The outermost angle from the nadir, in a half-plane, that reaches `level` candelas. */
static double outermost_rad(const vs_photometric_table *table, double level,
                            double horizontal_rad) {
    const double *v = table->vertical_rad;
    size_t last = table->vertical_count - 1;
    double outside = vs_photometric_candela_at(table, v[last], horizontal_rad);
    if (outside >= level) {
        return v[last];
    }
    for (size_t i = last; i-- > 0;) {
        double inside = vs_photometric_candela_at(table, v[i], horizontal_rad);
        if (inside >= level) {
            return blend(v[i], v[i + 1], (inside - level) / (inside - outside));
        }
        outside = inside;
    }
    return 0;
}

double vs_photometric_spread_rad(const vs_photometric_table *table, double share,
                                 double horizontal_rad) {
    double level = share * vs_photometric_peak_candela(table);
    if (!(share > 0 && share < 1 && level > 0) || !isfinite(horizontal_rad)) {
        return NAN;
    }
    return outermost_rad(table, level, horizontal_rad) +
           outermost_rad(table, level, horizontal_rad + VS_PI);
}

/* A ray in the lamp's own frame, and the breaks found on it so far. */
typedef struct {
    double o[3], d[3]; /* along c0, c90, nadir */
    double length_m;
    double *at_m;
    size_t count, size;
} crossing;

/* Whether t is on the ray and there is room for it; false for NaN. */
static bool is_place(const crossing *ray, double t) {
    return t > 0 && t < ray->length_m && ray->count < ray->size;
}

/* Where share x t = whole, if that is on the ray. */
static bool find_place(const crossing *ray, double whole, double share, double *t) {
    *t = share == 0 ? -1 : whole / share;
    return is_place(ray, *t);
}

/* A cone about the nadir, on its own side of the lamp. */
static void cross_cone(crossing *ray, double vertical_rad) {
    const double *o = ray->o, *d = ray->d;
    double cosine = cos(vertical_rad);
    double t;
    if (fabs(cosine) < VS_CONE_LEVEL) {
        if (find_place(ray, -o[2], d[2], &t)) {
            ray->at_m[ray->count++] = t;
        }
        return;
    }
    const vs_vec3 nadir = {0, 0, 1}, from_lamp = {o[0], o[1], o[2]}, direction = {d[0], d[1], d[2]};
    vs_cone_meeting cone = vs_cone_meet(from_lamp, direction, nadir, cosine);
    for (int i = 0; i < 2; i++) {
        if (is_place(ray, cone.t[i]) && (o[2] + cone.t[i] * d[2]) * cosine > 0) {
            ray->at_m[ray->count++] = cone.t[i];
        }
    }
}

/* A half-plane through the nadir, or the whole plane. */
static void cross_plane(crossing *ray, double horizontal_rad, bool whole) {
    const double *o = ray->o, *d = ray->d;
    double c = cos(horizontal_rad), s = sin(horizontal_rad);
    double t;
    bool crosses = find_place(ray, s * o[0] - c * o[1], c * d[1] - s * d[0], &t);
    if (crosses && (whole || c * (o[0] + t * d[0]) + s * (o[1] + t * d[1]) > 0)) {
        ray->at_m[ray->count++] = t;
    }
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

size_t vs_photometric_breaks(const vs_photometric_table *table, const vs_photometric_frame *frame,
                             vs_vec3 from_lamp_m, vs_vec3 direction, double length_m, double *at_m,
                             size_t size) {
    crossing ray = {{vs_vec3_dot(from_lamp_m, frame->c0), vs_vec3_dot(from_lamp_m, frame->c90),
                     vs_vec3_dot(from_lamp_m, frame->nadir)},
                    {vs_vec3_dot(direction, frame->c0), vs_vec3_dot(direction, frame->c90),
                     vs_vec3_dot(direction, frame->nadir)},
                    length_m,
                    at_m,
                    0,
                    size};
    for (size_t i = 0; i < table->vertical_count; i++) {
        cross_cone(&ray, table->vertical_rad[i]);
    }
    symmetry kind = symmetry_of(table);
    for (size_t i = 0; i < table->horizontal_count && kind != ROTATIONAL; i++) {
        double h = table->horizontal_rad[i];
        cross_plane(&ray, h, kind == QUADRANT);
        if (kind != UNSYMMETRIC && sin(h) > ANGLE_SLACK) {
            cross_plane(&ray, -h, kind == QUADRANT);
        }
    }
    qsort(at_m, ray.count, sizeof *at_m, by_size);
    return ray.count;
}

size_t vs_photometric_breaks_most(const vs_photometric_table *table) {
    return 2 * (table->vertical_count + table->horizontal_count);
}
