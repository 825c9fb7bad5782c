/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Form factors (view factors) of rectangles, in closed form.
 * Source: Ehlert & Smith 1993, J. Thermophys. Heat Transf. 7, 173 (rectangles anywhere in parallel
 * and perpendicular planes), as in Howell's catalogue of configuration factors C-13 and C-15. */
#ifndef VEILSTOP_LIGHT_FORM_FACTOR_H
#define VEILSTOP_LIGHT_FORM_FACTOR_H

#include "veilstop/light/space.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Exchange area of two rectangles [m2]: area of either x its form factor to the other.
 *  a, b  sides and normals along the axes; each wholly on the front side of the other's plane or in
 *        it, nothing between them
 *  Returns 0 if they are in one plane; NaN for rectangles that are not axis-aligned.
 *  Checked: tests/unit/test_form_factor.c against Howell's values. */
double vs_form_factor_area_m2(const vs_rect *a, const vs_rect *b);

/** Form factor from a small surface at p with a unit normal to a rectangle's front, without the
 *  part behind the surface [1].
 *  Method: Lambert's sum over the edges, (1/2 pi) sum of angle x normal . unit edge cross product
 *  (Siegel & Howell, Thermal Radiation Heat Transfer, ch. on contour integration). */
double vs_form_factor_from_point(vs_vec3 p_m, vs_vec3 normal, const vs_rect *rect);

/** The same to a flat polygon, all of it in front of the surface.
 *  corner  relative to the small surface's place [m], in order around the polygon; count of them */
double vs_form_factor_of_polygon(const vs_vec3 *corner, int count, vs_vec3 normal);

#ifdef __cplusplus
}
#endif
#endif
