/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums over flat convex polygons seen from a point, as quadrilaterals: split until each is small
 * against its distance, then by Radon's rule. Private to src/light.
 * Source: Radon 1948, Monatsh. Math. 52, 286 (seven points of a square, exact to degree 5). */
#ifndef VEILSTOP_LIGHT_GEOMETRY_QUADS_H
#define VEILSTOP_LIGHT_GEOMETRY_QUADS_H

#include <stdbool.h>

#include "veilstop/base/vec3.h"

#define VS_RADON_POINTS 7

/* A sum over quadrilaterals: when they are small enough, and what each adds. */
typedef struct {
    /* longest_m  of its sides;  nearest_m  of its corners and middle from the point */
    bool (*small_enough)(const void *context, vs_vec3 middle, double longest_m, double nearest_m);
    /* at, area_m2  the seven points of the rule and the area that each stands for */
    void (*add)(void *context, const vs_vec3 at[VS_RADON_POINTS],
                const double area_m2[VS_RADON_POINTS]);
    void *context;
    int splits_max; /* halvings of one quadrilateral */
} vs_quad_sum;

/* Adds a polygon, every quadrilateral halved across its longest side until it is small enough.
 *  corner  relative to the point from which the polygon is seen [m];  count  of them, from 3 */
void vs_quads_add(const vs_quad_sum *sum, const vs_vec3 *corner, int count);

#endif
