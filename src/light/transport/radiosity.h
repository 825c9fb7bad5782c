/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What surfaces give one another, by their form factors: rows found once a location, solved in any
 * haze for eight lights at a time. Inside src/light.
 * Sources: Goral, Torrance, Greenberg & Battaile 1984, Comput. Graph. 18, 213; Sinkhorn 1967,
 * Am. Math. Mon. 74, 402 (bringing a matrix to given sums). */
#ifndef VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_H
#define VEILSTOP_LIGHT_TRANSPORT_RADIOSITY_H

#include "light/transport/harmonics.h"
#include "light/transport/kernel_view.h"
#include "veilstop/base/bands.h"
#include "veilstop/light/camera_ray.h"

/* A way through openings: to a patch behind them, and past the cells of air at each. */
typedef struct {
    size_t patch; /* VS_MESH_NONE: it leads outside */
    double open;  /* transmittance of openings and nets on it */
    size_t room_count;
    size_t room[VS_SPACE_CROSSING_MAX]; /* behind each opening */
    vs_vec3 door_m[VS_SPACE_CROSSING_MAX];
    double door_open[VS_SPACE_CROSSING_MAX]; /* transmittance so far */
    double length_m[VS_SPACE_CROSSING_MAX];  /* of the way in each room */
} vs_way_through;

/* The way on through an opening of a room at p. */
void vs_camera_setup_through(const vs_mesh *mesh, size_t room, size_t portal, vs_vec3 p_m,
                             vs_vec3 way, vs_way_through *out);

/* Parts of an opening's patch, so many that none is large as seen from a place; shares of the
 * solid angle that sum to 1. */
#define VS_OPENING_PARTS_MAX 36
typedef struct {
    size_t count;
    vs_vec3 at_m[VS_OPENING_PARTS_MAX];
    double share[VS_OPENING_PARTS_MAX];
} vs_opening_parts;

void vs_opening_parts_of(const vs_rect *opening, vs_vec3 from_m, vs_opening_parts *parts);

/* What a patch or a cell, the row, sees behind openings. */
typedef struct {
    uint32_t row, patch; /* patch: VS_ROW_AIR: the air behind the opening instead */
    uint32_t cell;       /* of that air */
    uint32_t room_count;
    float weight;      /* openings and nets counted */
    float length_m[4]; /* the way in rooms, the first the row's own */
    uint16_t room[4];
    float harmonic[VS_SH_COUNT]; /* of the direction in which its light comes */
} vs_row_through;

#define VS_ROW_AIR UINT32_MAX

typedef struct {
    vs_row_through *item;
    size_t count, size;
} vs_throughs;

/* Adds what is seen from a place through an opening's patch of its room, weighed by `weight` in
 * all; what its row sees already counts so much more.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_see_through(const vs_mesh *mesh, vs_throughs *throughs, size_t row,
                                        vs_vec3 from_m, size_t opening, double weight);

/* Their weights as haze dims them. */
void vs_throughs_dim(const vs_throughs *throughs, const double *room_extinction_per_m, double rate,
                     double *weight);

typedef struct {
    const vs_mesh *mesh;
    size_t *block;       /* room: where its form factors begin, count x count of its patches */
    double *form_factor; /* row x patch of the room */
    float *length_m;     /* the same: middle to middle */
    double *presence;    /* patch */
    vs_throughs through;
} vs_radiosity;

/* mesh  borrowed.  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_radiosity_init(vs_radiosity *radiosity, const vs_mesh *mesh);
void vs_radiosity_free(vs_radiosity *radiosity);

/* Memory to solve in; one a thread. */
typedef struct {
    double *weight;  /* form factors dimmed in a haze */
    double *through; /* the same of what is seen behind openings */
    double *taken;   /* patch: of light that falls on it from all round, what haze takes [1] */
    double *column;  /* patch: area that all patches give back of its light [m2] */
    double *source, *nits, *behind; /* patch x LANES */
} vs_radiosity_work;

VS_WARN_UNUSED vs_status vs_radiosity_work_init(vs_radiosity_work *work,
                                                const vs_radiosity *radiosity);
void vs_radiosity_work_free(vs_radiosity_work *work);

/* Takes up one band of a haze: extinction of each room [1/m]. */
void vs_radiosity_dim(const vs_radiosity *radiosity, const double *room_extinction_per_m,
                      double rate, vs_radiosity_work *work);

/* Solves work->nits for work->source: of each patch what it gives back of light that comes to it
 * straight and by way of droplets [cd/m2], for LANES lights. Each light rests by itself: what it
 * gets does not hang on the others.
 * Errors: VS_ERR_CONVERGENCE. */
VS_WARN_UNUSED vs_status vs_radiosity_solve(const vs_radiosity *radiosity, vs_radiosity_work *work);

#endif
