/* The light of one emitter at a strength of 1 in one haze, everywhere: what its traced walks carry
 * there. Inside src/light. */
#ifndef VEILSTOP_LIGHT_FIELD_H
#define VEILSTOP_LIGHT_FIELD_H

#include "light/scattering.h"
#include "light/tracing.h"
#include "veilstop/base/bands.h"
#include "veilstop/light/sight.h"

typedef struct {
    double *nits;        /* band x patch: what it gives back of direct light and of light from
                            droplets, its pools' left out; once solved, of all light [cd/m2] */
    double *pooled_nits; /* band x patch: of the pools' direct light, as if it were even */
    double *pool_cd;     /* pool x band: luminance x area of what it gives back */
    float *cell;         /* cell x band x harmonic: light that droplets scattered last */

} vs_field;

VS_WARN_UNUSED vs_status vs_field_init(vs_field *field, const vs_mesh *mesh,
                                       const vs_tracing *tracing);
void vs_field_free(vs_field *field);

/* Works out in a haze what comes straight from the emitter and from droplets; what surfaces give
 * one another of it is still to be solved (radiosity.h).
 *     work  room for three numbers a leg and three a chain
 * Every generation of walks is brought to just the light that haze took from the one before. */
void vs_field_fill(vs_field *field, const vs_mesh *mesh, const vs_tracing *tracing,
                   const vs_medium *medium, const vs_scattering *scattering, double *work);

#endif
