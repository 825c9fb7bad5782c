/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Real spherical harmonics to order 3, by their polynomials. Private to src/light.
 * Source: Ramamoorthi & Hanrahan 2001, SIGGRAPH 497 (irradiance); Sloan 2008, Stupid Spherical
 * Harmonics Tricks, appendix A2 (polynomials). */
#ifndef VEILSTOP_LIGHT_MESH_HARMONICS_H
#define VEILSTOP_LIGHT_MESH_HARMONICS_H

#include "veilstop/base/vec3.h"

#define VS_SH_ORDER 3
#define VS_SH_COUNT 16 /* (order + 1)^2 */

static const unsigned char vs_sh_degree[VS_SH_COUNT] = {0, 1, 1, 1, 2, 2, 2, 2,
                                                        2, 3, 3, 3, 3, 3, 3, 3};

/* Y of a unit direction; orthonormal over 4 pi sr. */
static inline void vs_sh(vs_vec3 d, double y[VS_SH_COUNT]) {
    double x = d.x, v = d.y, z = d.z, xx = x * x, vv = v * v, zz = z * z;
    y[0] = 0.28209479177387814;
    y[1] = 0.4886025119029199 * v;
    y[2] = 0.4886025119029199 * z;
    y[3] = 0.4886025119029199 * x;
    y[4] = 1.0925484305920792 * x * v;
    y[5] = 1.0925484305920792 * v * z;
    y[6] = 0.31539156525252005 * (3 * zz - 1);
    y[7] = 1.0925484305920792 * x * z;
    y[8] = 0.5462742152960396 * (xx - vv);
    y[9] = 0.5900435899266435 * v * (3 * xx - vv);
    y[10] = 2.890611442640554 * x * v * z;
    y[11] = 0.4570457994644658 * v * (5 * zz - 1);
    y[12] = 0.3731763325901154 * z * (5 * zz - 3);
    y[13] = 0.4570457994644658 * x * (5 * zz - 1);
    y[14] = 1.445305721320277 * z * (xx - vv);
    y[15] = 0.5900435899266435 * x * (xx - 3 * vv);
}

#endif
