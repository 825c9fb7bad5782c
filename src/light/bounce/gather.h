/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Final gather: what a camera ray, or a place on a surface, sees of all that gives it light,
 * however dense the haze: found once, then evaluated in any haze for the cost of its exponentials.
 * Private to src/light. */
#ifndef VEILSTOP_LIGHT_BOUNCE_GATHER_H
#define VEILSTOP_LIGHT_BOUNCE_GATHER_H

#include "base/growable.h"
#include "light/mesh/room_view.h"
#include "light/mesh/scattering.h"
#include "light/transport/field.h"
#include "veilstop/light/camera_ray.h"

/* A camera ray in one room; a place is a segment of no length. */
typedef struct {
    size_t room;
    double from_m, to_m;               /* down the line */
    double open;                       /* transmittance of nets and panes from the camera to here */
    size_t blocker_first, blocker_end; /* that stand in its room */
} vs_gather_segment;

/* A blocker in the room of a segment, on its axes u, v and normal from its middle. */
typedef struct {
    float axis[3][3], low[3], high[3]; /* how far it extends */
    float start[3], along[3];          /* where the line starts, and its direction */
    float line_low[3], line_high[3];   /* where the segment is */
    float stopped;                     /* share of light that it stops */
} vs_gather_blocker;

/* A place on a segment from which patches and cells are seen. */
typedef struct {
    size_t segment;
    double off_m;       /* down its segment */
    double weight;      /* [m] of the line that it stands for, nets counted; of a place: pi */
    size_t view, whole; /* its patches: worth in three bands, then how far, `whole` of each */
    uint32_t cell[8];   /* of the air about it, and their shares */
    float share[8];
} vs_gather_node;

/* Rooms that light is seen through, the node's own included. */
#define VS_GATHER_ROOMS_MAX (VS_VIEW_OPENINGS_MAX + 1)

/* Eight patches of the room behind an opening, seen from a node. */
typedef struct {
    uint32_t place; /* of the first, of its room's */
    float worth[VS_BAND_COUNT][LANES];
    float before_m[LANES], behind_m[LANES]; /* the way to the opening, and on from there */
} vs_gather_eight;

/* A cell of the air behind an opening, and its share of what is seen of that. */
typedef struct {
    uint32_t cell; /* of vs_gather's behind */
    float share;
} vs_gather_air;

/* What a node sees through an opening: patches of the room behind, the room's openings among them,
 * and cells of its air. */
typedef struct {
    uint32_t node, block; /* block: of vs_gather's, the room behind */
    uint32_t room_count;  /* rooms on the way to the opening, and their shares of it */
    uint32_t room[VS_VIEW_OPENINGS_MAX];
    float part[VS_VIEW_OPENINGS_MAX];
    float away_m;                /* to the opening, in the mean */
    float worth[VS_BAND_COUNT];  /* of even light from it */
    float harmonic[VS_SH_COUNT]; /* of the directions in which it is seen, in the mean */
    size_t eight_first, eight_end, air_first, air_end;
} vs_gather_opening;

/* Light of separate sources, eight samples on one segment: its worth and its path, parts of which
 * are dimmed by all of the extinction, as a narrow beam is, and as other light is. Unused samples are
 * worth nothing. */
typedef struct {
    float worth[VS_BAND_COUNT][LANES];
    float plain_m[LANES], narrow_m[LANES], wide_m[LANES];
    uint32_t segment;
} vs_gather_samples;

typedef VS_LIST(vs_gather_samples) vs_gather_sample_list;

/* Eight pools seen from one segment: as many eights of samples follow one another as places that
 * each is seen from. */
typedef struct {
    uint32_t pool[LANES], emitter[LANES];
    uint32_t count;         /* the rest are unused */
    uint32_t first, places; /* among the samples */
} vs_gather_pools;

/* A patch whose pool counts by itself on a segment, or a share of it, and so not as if it were even
 * over the patch. */
typedef struct {
    uint32_t patch, segment, emitter;
    float share;
} vs_gather_left_out;

/* Pools seen of all emitters. */
typedef struct {
    vs_gather_sample_list samples;
    VS_LIST(vs_gather_pools) pools;
    VS_LIST(vs_gather_left_out) left_out;
} vs_gather_pooled;

/* What is seen of one emitter's narrow beam, and of its light scattered forward. */
typedef struct {
    size_t number; /* of the walks that it and what is seen of its pools are of; 0: none yet */
    bool once;     /* its samples include its light scattered once, of a place on a surface */
    vs_gather_sample_list samples;
    size_t beam_end; /* of beams, then of light scattered forward */
    VS_LIST(float)
    before_m; /* segment x room: mean path of beams in others before they come here */
} vs_gather_light;

typedef VS_LIST(size_t) vs_gather_places;

typedef struct {
    const vs_mesh *mesh; /* borrowed, as the next */
    const vs_scattering *scattering;
    bool place;      /* else a camera ray */
    bool on_surface; /* a place on a surface of its room: between four patches */
    size_t about[4];
    double about_share[4];
    vs_vec3 at_m, toward; /* start and unit direction, or place and its normal */
    VS_LIST(vs_gather_segment) segment;
    VS_LIST(vs_gather_blocker) blocker;
    VS_LIST(vs_gather_node) node;
    VS_LIST(float) view;
    VS_LIST(vs_gather_eight) eight;
    VS_LIST(vs_gather_air) air;
    VS_LIST(vs_gather_opening) opening;
    vs_gather_places behind; /* cells of air seen through openings, each once */
    vs_gather_places block;  /* rooms whose patches count: of the segments, then behind openings */
    float harmonic[VS_BAND_COUNT][VS_SH_COUNT]; /* what the light of cells is worth */
    vs_gather_pooled pooled;
    vs_gather_light *light; /* one an emitter */
    size_t emitter_count;
    bool tight; /* lists are cut to what they hold, because it is kept */
} vs_gather;

/* mesh, scattering  borrowed, must outlive it */
VS_WARN_UNUSED vs_status vs_gather_init(vs_gather *gather, const vs_mesh *mesh,
                                        const vs_scattering *scattering, size_t emitter_count);
void vs_gather_free(vs_gather *gather);

/* Frees memory that is not used, now and after whatever is found later. */
void vs_gather_tighten(vs_gather *gather);
size_t vs_gather_bytes(vs_gather *gather);

/* Looks along a camera ray, or around from a place on a surface; nothing is seen outside. What it
 * held is forgotten, its memory reused.
 *     view  VS_GATHER_ROOMS_MAX of them, to find what is seen
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_gather_ray(vs_gather *gather, vs_room_view *view,
                                       const vs_camera_ray *ray);
VS_WARN_UNUSED vs_status vs_gather_place(vs_gather *gather, vs_room_view *view, vs_vec3 p_m,
                                         vs_vec3 normal);

/* Finds emitters' pools and beams, where they are not those found before.
 *     strength  of each: of dark ones nothing is found
 * Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_gather_lights(vs_gather *gather, const vs_traced *traced,
                                          const vs_bands *strength);

#endif
