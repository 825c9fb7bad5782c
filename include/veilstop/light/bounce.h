/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The room's own light: what met a surface (radiosity), or more than one droplet (multiple
 * scattering), before it is seen - light by light, in rooms joined by openings, with boards, nets
 * and panels in them.
 * Light is traced outward from each emitter and kept as a field: luminances of patches and of small
 * pools on surfaces, harmonics of what droplets scatter in cells of air. A line of sight or a
 * surface then gathers it. Sources: Keller 1997, Instant Radiosity, SIGGRAPH 49 (gathering from
 * what was traced); Goral, Torrance, Greenberg, Battaile 1984, Comput. Graph. 18, 213 (patches);
 * Novak, Nowrouzezahrai, Dachsbacher & Jarosz 2012, ACM Trans. Graph. 31, 60 (beams as lines). */
#ifndef VEILSTOP_LIGHT_BOUNCE_H
#define VEILSTOP_LIGHT_BOUNCE_H

#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"
#include "veilstop/light/surfaces.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Surfaces in patches, air in cells: made once a location, whatever its haze and lights. Only read
 *  from then on, by as many threads as there are. */
typedef struct {
    void *kept; /* opaque */
} vs_bounce_location;

/** space, surfaces  borrowed, must outlive it.
 *  Errors: VS_ERR_MEMORY; VS_ERR_DOMAIN where light is trapped (vs_surfaces_light_trap). */
VS_WARN_UNUSED vs_status vs_bounce_location_init(vs_bounce_location *location,
                                                 const vs_space *space,
                                                 const vs_surfaces *surfaces);
/** The same step by step: begin; then the parts, each once, in any order or on several threads. If
 *  any fails, call vs_bounce_location_free.  part  0 to VS_BOUNCE_PARTS - 1. */
#define VS_BOUNCE_PARTS 3
VS_WARN_UNUSED vs_status vs_bounce_location_begin(vs_bounce_location *location,
                                                  const vs_space *space,
                                                  const vs_surfaces *surfaces);
VS_WARN_UNUSED vs_status vs_bounce_location_part(vs_bounce_location *location, size_t part);
void vs_bounce_location_free(vs_bounce_location *location);

/** What is kept from one question to the next: each emitter's walks, and its field at a strength of
 *  1 in the last few hazes. One a thread. */
typedef struct {
    void *kept; /* opaque */
} vs_bounce_solver;

/** location       borrowed, must outlive it
 *  haze           borrowed, must outlive it
 *  emitter_count  of every question
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_solver_init(vs_bounce_solver *solver,
                                               const vs_bounce_location *location,
                                               const vs_haze *haze, size_t emitter_count);
void vs_bounce_solver_free(vs_bounce_solver *solver);

/** A solver for one more thread, that reads what the first has solved: for views, and what is asked
 *  of them. It solves nothing itself (VS_ERR_DOMAIN), and the first must not solve while it is used.
 *  first  must outlive it.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_solver_init_beside(vs_bounce_solver *solver,
                                                      const vs_bounce_solver *first);

/** Follows an emitter's light beforehand, as vs_bounce_solve does where it has not been. Several
 *  threads may do so at a time, each another emitter.
 *  emitter  the one of that index.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_solver_trace(vs_bounce_solver *solver, const vs_emitter *emitter,
                                                size_t index);
/** Lends what was followed so far to another solver of the same location that is new, which then
 *  needs not. Both then solve by themselves, at the same time too.
 *  solver  must outlive the other */
void vs_bounce_solver_lend(vs_bounce_solver *solver, vs_bounce_solver *other);

/** Bounced light of each emitter in one haze. */
typedef struct {
    vs_bounce_solver *solver; /* borrowed */
    void *air;                /* held in the solver until the bounce is freed */
    vs_bands *strength;       /* one an emitter */
    size_t emitter_count;
} vs_bounce;

/** The bounce of each emitter: what is kept of it, or else worked out and kept. Strengths may be
 *  others each time, and emitters may have moved: their places are compared, not trusted.
 *  solver   must outlive the bounce
 *  medium   borrowed for this call; its haze is the solver's
 *  emitter  borrowed for this call, emitter_count of them; dark ones give nothing
 *  bounce   out; free on VS_OK only
 *  Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE.
 *  Method: 2,048 walks an emitter, the same in every haze; energy is conserved generation by
 *  generation of droplets.
 *  Checked: tests/unit/test_bounce.c against published slabs, rooms and
 *  furnaces; measured against random walks in docs/accuracy.md. */
VS_WARN_UNUSED vs_status vs_bounce_solve(vs_bounce_solver *solver, const vs_medium *medium,
                                         const vs_emitter *emitter, vs_bounce *bounce);
void vs_bounce_free(vs_bounce *bounce);

/** The same bounce, as a solver beside the one that solved it reads it. Borrows the bounce: good
 *  while that is, and not to be freed. */
vs_bounce vs_bounce_beside(const vs_bounce *bounce, vs_bounce_solver *solver);

/** Veil on a camera ray of light that met a surface, or more than one droplet, first; emitter by
 *  emitter [cd/m2].
 *  medium  as solved for
 *  once    one an emitter: its once-scattered veil on it, as vs_airlight_fast gives it
 *  nits    out, one an emitter
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_veil(const vs_bounce *bounce, const vs_medium *medium,
                                        const vs_camera_ray *ray, const vs_bands *once,
                                        vs_bands *nits);

/** Light on a small surface at p with unit normal that met a surface or a droplet first; emitter by
 *  emitter [lx].
 *  direct  one an emitter: what comes straight from it, as vs_illuminance gives it; NULL in clear
 *          air, where nothing depends on it
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_lux(const vs_bounce *bounce, const vs_medium *medium,
                                       vs_vec3 p_m, vs_vec3 normal, const vs_bands *direct,
                                       vs_bands *lux);

/** A camera ray, or a small surface, with all that gives it light as it sees it: none of that
 *  depends on how dense the haze is, so one more density costs only exponentials. Answers
 *  are those of vs_bounce_veil and vs_bounce_lux, to the last digit. One a thread. */
typedef struct {
    void *kept; /* opaque */
} vs_bounce_view;

/** solver  must outlive the view
 *  ray     borrowed for this call; in any haze
 *  view    out; free on VS_OK only
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_bounce_view_ray(vs_bounce_view *view, vs_bounce_solver *solver,
                                            const vs_camera_ray *ray);
VS_WARN_UNUSED vs_status vs_bounce_view_place(vs_bounce_view *view, vs_bounce_solver *solver,
                                              vs_vec3 p_m, vs_vec3 normal);
void vs_bounce_view_free(vs_bounce_view *view);

/** Memory that a view holds [bytes]: some tens of thousands. */
size_t vs_bounce_view_bytes(const vs_bounce_view *view);

/** As vs_bounce_veil, and as vs_bounce_lux. bounce: of the view's solver; what the view sees of an
 *  emitter is found when it is first asked about, and anew where that has moved. */
VS_WARN_UNUSED vs_status vs_bounce_view_veil(const vs_bounce *bounce, const vs_medium *medium,
                                             vs_bounce_view *view, const vs_bands *once,
                                             vs_bands *nits);
/** That veil in its two parts, emitter by emitter: nits, which is smooth from ray to ray, and what
 *  droplets send straight on of light that they scatter: once x more. nits, more: out, one an
 *  emitter; more [1]. */
VS_WARN_UNUSED vs_status vs_bounce_view_veil_apart(const vs_bounce *bounce, const vs_medium *medium,
                                                   vs_bounce_view *view, vs_bands *nits,
                                                   vs_bands *more);
VS_WARN_UNUSED vs_status vs_bounce_view_lux(const vs_bounce *bounce, const vs_medium *medium,
                                            vs_bounce_view *view, const vs_bands *direct,
                                            vs_bands *lux);

#ifdef __cplusplus
}
#endif
#endif
