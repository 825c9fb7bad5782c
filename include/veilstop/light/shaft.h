/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The exact intervals of a line of sight that a point-like source lights: the edges of shafts and
 * shadows are where the line meets the pyramid over an opening or a blocker with its apex at the
 * source (for the sun, a prism), the cone of a spot, or the front plane of a panel. */
#ifndef VEILSTOP_LIGHT_SHAFT_H
#define VEILSTOP_LIGHT_SHAFT_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/vec3.h"
#include "veilstop/light/camera_ray.h"
#include "veilstop/light/emitter.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The line of sight relative to a source: distances along it are a + h tan(angle), where the angle
 *  is at the source, from the foot of the perpendicular (Kulla & Fajardo 2012). */
typedef struct {
    double foot_m;  /* a: distance along the line of the point nearest the source */
    double apart_m; /* h: distance of the source from the line, at least VS_SHAFT_APART_MIN_M */
    vs_vec3 across; /* unit vector from the source to the foot */
} vs_shaft_frame;

/** A lamp is no smaller than this: on a line through a true point source the veil would be
 *  infinite. */
#define VS_SHAFT_APART_MIN_M 1e-3 /* [m] a filament; our choice */
/* [m] for points that represent elements of a surface */
#define VS_SHAFT_ELEMENT_APART_MIN_M 1e-7

vs_shaft_frame vs_shaft_frame_make(const vs_camera_ray *ray, vs_vec3 source_m);

/** The haze between source and line, where the path crosses an opening into a room of another
 *  density: optical depth changes by change x (distance from the source to the opening's plane). */
typedef struct {
    double off_m;        /* distance of the opening's plane from the source, along its normal */
    vs_vec3 normal;      /* of the opening */
    double change_per_m; /* extinction before the opening less that beyond it */
} vs_shaft_crossing;

/* changes of density followed on one path; with more it counts as blocked */
#define VS_SHAFT_CROSSING_MAX 4
#define VS_SHAFT_MAX          96 /* lit intervals of one segment */

/** An interval of one segment of the line with nothing between it and the source but nets and
 *  panes. */
typedef struct {
    double from_m, to_m;  /* along the line */
    double transmittance; /* of what is in between */
    vs_shaft_crossing crossing[VS_SHAFT_CROSSING_MAX];
    size_t crossing_count;
} vs_shaft;

/** Lit intervals of a segment of the line, ascending.
 *  source  a point source with its profile's edges
 *  shaft   out, array of VS_SHAFT_MAX
 *  Returns their number. */
size_t vs_shaft_from_point(const vs_medium *medium, const vs_camera_ray *ray,
                           const vs_ray_segment *segment, const vs_point_source *source,
                           vs_shaft *shaft);

/** The same for a parallel beam through its opening; no crossings are listed, because the beam's
 *  optical depth is linear along each interval. */
size_t vs_shaft_from_parallel(const vs_medium *medium, const vs_camera_ray *ray,
                              const vs_ray_segment *segment, const vs_emitter *emitter,
                              vs_shaft *shaft);

/** Whether nothing but haze of one density can be between a segment of the line and any point of a
 *  rectangle or tube: they share a room and every blocker is to one side. True is certain; false
 *  means that something may be in between. */
bool vs_shaft_open_to_surface(const vs_space *space, const vs_camera_ray *ray,
                              const vs_ray_segment *segment, const vs_emitter *emitter);

/** The location with those blockers alone that may be between a segment of the line and a rectangle
 *  or tube: those left out are certainly not in between.
 *  between  out, array of `most`: the blockers of what is returned, which borrows it
 *  Returns the location; with all its blockers if over `most` may be in between. */
vs_space vs_shaft_space_between(const vs_space *space, const vs_camera_ray *ray,
                                const vs_ray_segment *segment, const vs_emitter *emitter,
                                vs_blocker *between, size_t most);

/** Where a parallel beam that reaches p entered: the point on its opening's plane. */
vs_vec3 vs_shaft_parallel_origin(const vs_space *space, const vs_emitter *emitter, vs_vec3 p);

/** Transmittance of everything a parallel beam passes on its way to p, its opening included; 0 if
 *  it does not reach p. */
double vs_shaft_parallel_transmittance(const vs_space *space, const vs_emitter *emitter, vs_vec3 p);

#ifdef __cplusplus
}
#endif
#endif
