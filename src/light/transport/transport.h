/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light of up to eight emitters in one band of a haze, from lamp to surfaces and droplets and from
 * these to one another until it is gone: multiple scattering, second-order scattering and all higher
 * orders. Private to src/light. */
#ifndef VEILSTOP_LIGHT_TRANSPORT_TRANSPORT_H
#define VEILSTOP_LIGHT_TRANSPORT_TRANSPORT_H

#include "light/mesh/scattering.h"
#include "light/transport/air_openings.h"
#include "light/transport/field.h"
#include "light/transport/radiosity_solve.h"
#include "veilstop/light/camera_ray.h"

/* Memory to solve in; one per thread. */
typedef struct {
    const vs_radiosity *radiosity; /* borrowed */
    const vs_air *air;             /* borrowed */
    vs_radiosity_work solving;
    vs_air_work exchange;
    vs_air_openings openings;
    void *block; /* holds the arrays below */
    /* cell x harmonic x LANES: lamps' own light; light on its way; what droplets send of it, and of
     * what comes of that; what of it comes to cells of its room: at a step, of thin beams */
    float *lamp, *moment, *source, *other, *step, *thin;
    float *sources, *seen, *all_seen; /* what droplets send in a round; what comes of that */
    /* patch x LANES: what lands of a round's sources; of lamps' own light, scattered once; what patches
     * give back in a round, and in all; what landed in all but for the light scattered once */
    double *landed_lm, *once_lm, *step_nits, *nits, *air_lm;
    double *behind, *step_behind; /* the same: what patches see of air behind openings [lx/pi] */
    double *out_lm, *thin_out_lm; /* side of an opening x LANES: what comes to it, of thin beams */
} vs_transport;

VS_WARN_UNUSED vs_status vs_transport_init(vs_transport *transport, const vs_radiosity *radiosity,
                                           const vs_air *air);
void vs_transport_free(vs_transport *transport);

/* What is solved for: up to LANES emitters in one band of a haze. */
typedef struct {
    const vs_medium *medium;
    const vs_scattering *scattering;
    const vs_tracing *const *walks;
    size_t band, count;
} vs_transport_lights;

/* Sets one band of a haze. */
void vs_transport_dim(vs_transport *transport, const vs_medium *medium,
                      const vs_scattering *scattering, size_t band);

/* Light straight from the emitters: what patches give back of it into step_nits, what is on its way
 * through cells into lamp, pools into the fields. */
void vs_transport_begin(vs_transport *transport, const vs_transport_lights *lights,
                        vs_field *const *field);

/* Spreads what step_nits and lamp hold until it is gone: nits, air_lm and all_seen.
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_transport_solve(vs_transport *transport,
                                            const vs_transport_lights *lights);

/* Keeps one emitter's light as that band of its field. */
void vs_transport_keep(const vs_transport *transport, size_t lane, size_t band, vs_field *field);

#endif
