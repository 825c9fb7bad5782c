/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sums over triangles seen from a point: split until each is small against its distance, then by
 * Radon's rule. Private to src/light.
 * Source: Radon 1948, Monatsh. Math. 52, 286 (seven points, exact to degree 5). */
#ifndef VEILSTOP_LIGHT_GEOMETRY_TRIANGLES_H
#define VEILSTOP_LIGHT_GEOMETRY_TRIANGLES_H

#include <stdbool.h>

#include "veilstop/base/vec3.h"

#define VS_RADON_POINTS 7

/* Weights of the seven points, of a triangle's area [1]; they sum to 1. */
extern const double vs_radon_weight[VS_RADON_POINTS];

/* The seven points of a triangle, in the order of their weights. Returns its area [m2]. */
double vs_triangle_radon(const vs_vec3 corner[3], vs_vec3 point[VS_RADON_POINTS]);

/* A sum over triangles: when they are small enough, and what each adds. */
typedef struct {
    /* longest_m  of its sides;  nearest_m  of its corners from the point */
    bool (*small_enough)(const void *context, const vs_vec3 corner[3], double longest_m,
                         double nearest_m);
    void (*add)(void *context, const vs_vec3 corner[3]);
    void *context;
    int splits_max; /* halvings of one triangle */
} vs_triangle_sum;

/* Halves a triangle at its longest side until it is small enough, and adds the parts.
 *  corner  relative to the point from which the triangle is seen [m];  splits  0 */
void vs_triangle_add(const vs_triangle_sum *sum, const vs_vec3 corner[3], int splits);

#endif
