/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lights of a scene prepared for the integrals. Every light becomes one of four emitters: a
 * point with a profile, a Lambertian rectangle, a Lambertian line, a parallel beam. Rectangles and
 * lines are summed as points, finer the closer the target is. */
#ifndef VEILSTOP_LIGHT_EMITTER_H
#define VEILSTOP_LIGHT_EMITTER_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/status.h"
#include "veilstop/base/vec3.h"
#include "veilstop/light/lamp.h"
#include "veilstop/light/photometry.h"
#include "veilstop/light/space.h"

#ifdef __cplusplus
extern "C" {
#endif

/** The beam of a spot: relative intensity exp(-ln 2 (angle / half)^exponent), dark past the
 *  cutoff, where it would be a thousandth, and behind its front. */
typedef struct {
    double half_rad;                   /* half the beam angle: half intensity there */
    double tenth_rad;                  /* half the field angle: a tenth of the intensity there */
    double exponent;                   /* [1] */
    double cutoff_rad;                 /* at most a right angle: a spot has a back */
    double half_cosine, cutoff_cosine; /* of half_rad and cutoff_rad */
    double sine_scale; /* (angle/half)^2 = sine_scale x sin^2 of half the angle, for small angles */
} vs_spot;

/** beam_rad   full beam angle, over 0 and under pi
 *  field_rad  full field angle, wider than the beam, or NaN: exponent 2 (a Gaussian)
 *  Method: docs/physics.md, "light: lamps": p = ln(ln 10/ln 2)/ln(field/beam). */
vs_spot vs_spot_make(double beam_rad, double field_rad);

/** Relative intensity at an angle off the axis [1]; 1 on axis. */
double vs_spot_profile(const vs_spot *spot, double angle_rad);

/** Lumens of a spot of 1 cd on axis [sr]: 2 pi times the integral of profile x sin. */
VS_WARN_UNUSED vs_status vs_spot_lumens_per_candela(const vs_spot *spot, double *lumens);

/** Form factor from a small element to a parallel rectangle a x b at distance c, with one corner
 *  directly above the element [1]. Siegel & Howell, configuration factor catalogue B-3. */
double vs_rect_corner_factor(double a_m, double b_m, double c_m);

typedef enum {
    VS_EMITTER_POINT,   /* strength [cd] on axis */
    VS_EMITTER_RECT,    /* strength [cd/m2], Lambertian, from its front */
    VS_EMITTER_LINE,    /* strength [cd per m] square to it, falls with the sine */
    VS_EMITTER_PARALLEL /* strength [lx] square to the rays, outside its opening */
} vs_emitter_kind;

typedef enum {
    VS_PROFILE_EVEN,
    VS_PROFILE_COSINE,
    VS_PROFILE_SINE,
    VS_PROFILE_SPOT,
    VS_PROFILE_PHOTOMETRY
} vs_profile_kind;

typedef struct {
    vs_emitter_kind kind;
    vs_bands strength; /* dimmer and tint included */
    vs_vec3 at_m;      /* POINT; LINE: its start; RECT: its centre */
    vs_vec3 axis;      /* unit: POINT's aim, RECT's normal, LINE's direction, PARALLEL's travel */
    vs_rect rect;      /* RECT; LINE: its u along it, no height */
    double length_m;   /* LINE */
    vs_profile_kind profile;           /* POINT */
    vs_spot spot;                      /* SPOT */
    vs_photometric_frame frame;        /* PHOTOMETRY */
    const vs_photometric_table *table; /* PHOTOMETRY, borrowed */
    size_t opening;                    /* RECT as sky, PARALLEL; else VS_SPACE_OUTSIDE */
    size_t room; /* of its middle or a line's first end; for a sky or sun the room it shines into */
    bool through_wall; /* RECT, LINE: part of it is beyond a wall of that room */
} vs_emitter;

/** Prepares a light. A fed panel's strength stays 0: vs_scene_emitters sets it.
 *  light         borrowed; its table, if any, must outlive the emitter
 *  white_kelvin  the camera's white, for lights given by colour temperature [K]
 *  Errors: VS_ERR_DOMAIN, VS_ERR_MEMORY.  Strengths: lumens, lux and candela by the closed forms of
 *  docs/physics.md, "Lamps".  Checked: tests/unit/test_emitter.c */
VS_WARN_UNUSED vs_status vs_emitter_init(vs_emitter *emitter, const vs_light *light,
                                         const vs_space *space, double white_kelvin);

/** The room that contains all of an emitter, so that no wall cuts it; VS_SPACE_OUTSIDE if there is
 *  none.  Checked: tests/unit/test_through_wall.c */
size_t vs_emitter_whole_room(const vs_emitter *emitter);

/** The corners of a RECT, the ends of a LINE, or the place of another.  Returns their number. */
int vs_emitter_corners(const vs_emitter *emitter, vs_vec3 corner[4]);

/** Where an emitter's middle is; of a parallel beam, `at_m`. */
vs_vec3 vs_emitter_middle(const vs_emitter *emitter);

/** A point that represents an element of an emitter. */
typedef struct {
    vs_vec3 at_m;
    vs_bands candela; /* in the direction in which its profile is 1 */
    const vs_emitter *emitter;
    vs_profile_kind profile;
    vs_vec3 axis;
} vs_point_source;

/** Relative intensity of a point source into a unit direction [1]. */
double vs_point_source_profile(const vs_point_source *source, vs_vec3 direction);

/** A growable list of point sources; made once, used for many rays. */
typedef struct {
    vs_point_source *item;
    size_t count, size;
} vs_point_sources;

void vs_point_sources_init(vs_point_sources *sources);
void vs_point_sources_free(vs_point_sources *sources);

/** Represents an emitter by points, as seen from the segment a to b (a = b: from a point).
 *  Elements are halved until their size is at most `fineness` of their distance, then carry
 *  Gauss-Legendre
 *  points; a PARALLEL emitter has none.
 *  fineness  over 0; 0.5 is good to about 1e-3, 0.125 to 1e-6 for smooth surroundings
 *  Errors: VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_emitter_points(const vs_emitter *emitter, vs_vec3 a, vs_vec3 b,
                                           double fineness, vs_point_sources *sources);

#ifdef __cplusplus
}
#endif
#endif
