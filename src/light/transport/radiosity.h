/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What surfaces give one another, by their form factors: rows found once for a location. Private to
 * src/light.
 * Sources: Goral, Torrance, Greenberg & Battaile 1984, Comput. Graph. 18, 213; Sinkhorn 1967,
 * Am. Math. Mon. 74, 402 (scaling a matrix to given sums). */
#ifndef VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_H
#define VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_H

#include "light/mesh/mesh.h"
#include "light/mesh/through_openings.h"

typedef struct {
    const vs_mesh *mesh;
    void *memory;        /* holds the arrays */
    size_t *block;       /* room: where its form factors begin, count x count of its patches */
    double *form_factor; /* row x patch of the room */
    float *length_m;     /* the same: middle to middle */
    double *presence;    /* patch */
    vs_behind behind;
} vs_radiosity;

/* mesh  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_radiosity_init(vs_radiosity *radiosity, const vs_mesh *mesh);
void vs_radiosity_free(vs_radiosity *radiosity);

#endif
