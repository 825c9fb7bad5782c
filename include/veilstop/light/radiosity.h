/* The room's own light: what walls and screens give back, light by light, and what haze adds to it.
 * Radiosity of patches (Goral, Torrance, Greenberg, Battaile 1984, Comput. Graph. 18, 213) with
 * haze between them as in zonal exchange (Hottel & Sarofim 1967, Radiative Transfer; Rushmeier &
 * Torrance 1987, Comput. Graph. 21, 293). */
#ifndef VEILSTOP_LIGHT_RADIOSITY_H
#define VEILSTOP_LIGHT_RADIOSITY_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/sight.h"
#include "veilstop/light/surfaces.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What surfaces see of one another: made once a location, whatever its haze and lights. It is only
 *  read from then on, by as many threads as there are. */
typedef struct {
    void *rows; /* patches, views; opaque */
} vs_radiosity;

/** space, surfaces  borrowed, must outlive it.
 *  Errors: VS_ERR_MEMORY; VS_ERR_DOMAIN where light is trapped (vs_surfaces_light_trap). */
VS_WARN_UNUSED vs_status vs_radiosity_init(vs_radiosity *radiosity, const vs_space *space,
                                           const vs_surfaces *surfaces);
void vs_radiosity_free(vs_radiosity *radiosity);

/** What is kept from one question to the next: where each emitter's light goes, and what it bounces
 *  at a strength of 1 in the last few airs. One a thread. Measured for 20 emitters: 5 MB,
 *  0.7 MB of it for each air; at most 16 airs. */
typedef struct {
    void *kept; /* opaque */
} vs_bounces;

/** radiosity      borrowed, must outlive it
 *  emitter_count  of every question
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounces_init(vs_bounces *bounces, const vs_radiosity *radiosity,
                                         size_t emitter_count);
void vs_bounces_free(vs_bounces *bounces);

/** Bounced light of each emitter in one haze. */
typedef struct {
    const vs_radiosity *radiosity; /* borrowed */
    size_t emitter_count;
    size_t *shining; /* emitter: its place among those that shine, or SIZE_MAX */
    size_t shining_count;
    double *patch_nits; /* patch x shining emitter x band: what it gives back */
    double *cell_nits;  /* cell of air x shining emitter x band: source function of haze */
    size_t *hot;        /* patch: its place among those lit unevenly, or SIZE_MAX */
    size_t hot_count;
    double *sub_nits;  /* their parts x shining emitter x band */
    bool *lit;         /* room x shining emitter: whether its direct light is there in the air */
    vs_bands *weights; /* to gather with; so one question at a time */
} vs_bounce;

/** The bounce of each emitter: what is kept of it, or else solved and kept. Strengths may be others
 *  each time, and emitters may have moved: their places are compared, not trusted. Light on its way
 *  from lamp or surface is dimmed by extinction x (1 - albedo g), as scattering straight on takes
 *  nothing away (similarity: van de Hulst 1980, ch. 14); what that takes is scattered evenly and
 *  lights surfaces and haze again.
 *  bounces  must outlive the bounce
 *  medium   borrowed for this call
 *  emitter  borrowed for this call, emitter_count of them; dark ones give nothing
 *  bounce   out, to be freed; on error nothing needs to be
 *  Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Checked: tests/unit/test_radiosity.c; measured against random walks in docs/accuracy.md. */
VS_WARN_UNUSED vs_status vs_bounce_solve(vs_bounces *bounces, const vs_medium *medium,
                                         const vs_emitter *emitter, vs_bounce *bounce);
void vs_bounce_free(vs_bounce *bounce);

/** Whether an emitter's direct light reaches the air of any room that the line of sight runs
 *  through. */
bool vs_bounce_reaches(const vs_bounce *bounce, const vs_sight *sight, size_t emitter);

/** Veil that bounced light makes on a line of sight, emitter by emitter [cd/m2].
 *  medium  as solved for.  nits  out, one an emitter */
void vs_bounce_veil(vs_bounce *bounce, const vs_medium *medium, const vs_sight *sight,
                    vs_bands *nits);

/** Bounced light on a small surface at p with unit normal, emitter by emitter [lx]. */
void vs_bounce_lux(vs_bounce *bounce, const vs_medium *medium, vs_vec3 p_m, vs_vec3 normal,
                   vs_bands *lux);

#ifdef __cplusplus
}
#endif
#endif
