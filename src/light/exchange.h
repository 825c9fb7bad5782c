/* What patches and cells of air give one another in one haze and band, for eight lights at a time.
 * Inside src/light. */
#ifndef VEILSTOP_LIGHT_EXCHANGE_H
#define VEILSTOP_LIGHT_EXCHANGE_H

#include "light/lanes.h"
#include "light/views.h"
#include "veilstop/base/bands.h"
#include "veilstop/light/sight.h"

/* Weights of one haze and band, and room to solve in. Made once for a location. */
typedef struct {
    const vs_views *views;
    double *depth;       /* view: optical depth at 549 nm */
    double *transmitted; /* view: by one band, dimmed by similarity */
    double *weight;      /* entry: of the place seen, in the radiance of the row's place */
    double *factor;      /* place: what it gives of what it gets; 0: nothing */
    double *value;       /* place x LANES: as it stands in the sweeps */
} vs_exchange;

/* views  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_exchange_init(vs_exchange *exchange, const vs_views *views);
void vs_exchange_free(vs_exchange *exchange);

/* Takes up an air, then a band of it.
 *     rate    depth of the band's light over that at 549 nm, as similarity dims it [1]
 *     albedo  of the air, by similarity */
void vs_exchange_set_air(vs_exchange *exchange, const vs_medium *medium);
void vs_exchange_set_band(vs_exchange *exchange, const vs_medium *medium, double rate,
                          double albedo);

/* Solves for eight lights, each by itself: what it gets does not hang on the others.
 *     source  place x LANES: mean radiance straight from the light [cd/m2]
 *     nits    place x LANES; in: a first guess, 0 at worst; out: what each place gives, source
 *             function of cells
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_exchange_solve(const vs_exchange *exchange, const double *source,
                                           double *nits);

#endif
