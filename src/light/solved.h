/* What emitters bounce at a strength of 1, kept for the last few airs: so lights of other
 * strengths, other choices of lights and airs that come back cost nothing. Inside src/light. */
#ifndef VEILSTOP_LIGHT_SOLVED_H
#define VEILSTOP_LIGHT_SOLVED_H

#include "light/cast.h"
#include "light/exchange.h"

#define VS_SOLVED_AIRS 16 /* our choice: clear air, and as many densities as a day may have */

/* One emitter in one air, at a strength of 1. */
typedef struct {
    size_t cast;  /* the number of the ways that it was solved by; 0: not solved */
    double *nits; /* place x band: what it gives back; cells: source function, without refill */
    float *own;   /* part of a patch x band: what it gives back over the patch's mean, of direct
                     light alone [cd/m2] */
    bool *hot;    /* patch: lit so unevenly that its parts are worth telling apart */
    bool *lit;    /* room: whether direct light is there in the air */
} vs_solved_light;

typedef struct {
    double *room_extinction_per_m;
    vs_bands rate, albedo;  /* by similarity; rate: over the depth at 549 nm */
    vs_bands ratio;         /* extinction over that at 549 nm */
    size_t used;            /* the higher the later; 0: never */
    vs_solved_light *light; /* one an emitter */
} vs_solved_air;

/* Where an emitter's light goes. */
typedef struct {
    vs_emitter emitter;
    vs_ways ways;
    size_t number; /* 0: not followed yet */
} vs_solved_cast;

typedef struct {
    const vs_views *views;
    size_t emitter_count;
    vs_solved_cast *cast; /* one an emitter */
    vs_solved_air air[VS_SOLVED_AIRS];
    vs_exchange exchange;
    vs_bands *lumens;      /* room for one light: parts of patches, then cells of air */
    vs_bands *straight;    /* parts of patches, for what of it haze did not scatter */
    double *source, *nits; /* room for eight lights: place x LANES */
    size_t *missing;       /* room for a list of emitters */
    size_t clock;          /* numbers casts and uses */
} vs_solved;

/* views  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_solved_init(vs_solved *solved, const vs_views *views,
                                        size_t emitter_count);
void vs_solved_free(vs_solved *solved);

/* The air, with every emitter solved that shines; those that stand elsewhere than before are cast
 * anew. Stays as it is until the next call.
 * Errors: VS_ERR_MEMORY, VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_solved_in(vs_solved *solved, const vs_medium *medium,
                                      const vs_emitter *emitter, const vs_solved_air **air);

#endif
