/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Eight spheres of one refractive index side by side: the sums of vs_mie_sphere, arranged for
 * distributions of many sizes. Held against it by tests/unit/test_spheres.c. */
#ifndef VEILSTOP_OPTICS_SPHERES_H
#define VEILSTOP_OPTICS_SPHERES_H

#include "base/vector.h"
#include "veilstop/optics/mie.h"

/* One number per lane; arrays of rows have one row per term, from n = 0. */
typedef double vs_spheres_row[LANES];

/** Workspace for eight spheres up to a size. It keeps the coefficients of the last eight. */
typedef struct {
    double size_max;
    double size[LANES];
    double terms[LANES]; /* of each sphere; whole numbers */
    size_t most;         /* the largest of them */
    vs_spheres_row *d_re, *d_im, *psi, *chi;
    vs_spheres_row *a_re, *a_im, *b_re, *b_im; /* a_n, b_n at [n], 0 past a sphere's own terms */
    double *across;                            /* (2n + 1)/(n (n + 1)) at [n] */
    double *along;                             /* n (n + 2)/(n + 1) at [n] */
    void *memory;
} vs_spheres;

/** size_max  [1] as for vs_mie_workspace_init.   Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_spheres_init(vs_spheres *s, double size_max);
void vs_spheres_free(vs_spheres *s);

/** Efficiencies and asymmetry of eight spheres.
 *  size  size parameters, each as vs_mie_sphere takes them; any order
 *  n, k  as vs_mie_sphere takes them
 *  out   eight, finite on VS_OK.   Errors: VS_ERR_DOMAIN. */
VS_WARN_UNUSED vs_status vs_spheres_take(vs_spheres *s, const double size[LANES], double n,
                                         double k, vs_mie out[LANES]);

/** Copies the coefficients of one of the last eight into a workspace, as vs_mie_sphere leaves them.
 *  work  made for its size or a larger one */
void vs_spheres_hand_over(const vs_spheres *s, int lane, vs_mie_workspace *work);

#endif
