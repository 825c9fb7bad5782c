/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A light as a gaffer describes it: its place, kind and strength. light/emitter.h works out what it
 * sends in each direction. */
#ifndef VEILSTOP_LIGHT_LAMP_H
#define VEILSTOP_LIGHT_LAMP_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/vec3.h"
#include "veilstop/light/light_kind.h"
#include "veilstop/light/photometry.h"

#ifdef __cplusplus
extern "C" {
#endif

/** How the strength is given. */
typedef enum {
    VS_STRENGTH_CANDELA, /* value [cd], on axis */
    VS_STRENGTH_LUMENS,  /* value [lm], whole output */
    VS_STRENGTH_LUX,     /* value [lx] at lux_at_m on axis; SUN: square to the rays, outside */
    VS_STRENGTH_NITS,    /* value [cd/m2] */
    VS_STRENGTH_FED,     /* a panel lit by another light */
    VS_STRENGTH_TABLE    /* photometry: the file's own candelas */
} vs_strength_kind;

typedef enum { VS_COLOUR_NEUTRAL, VS_COLOUR_TINT, VS_COLOUR_KELVIN } vs_colour_kind;

typedef struct {
    const char *name;
    vs_light_kind kind;
    bool on;
    double dimmer; /* 0 to 1, scales the output */

    vs_colour_kind colour;
    vs_bands tint; /* TINT: luminance 1 */
    double kelvin; /* KELVIN */
    bool has_gel;
    vs_bands gel;     /* if has_gel: its transmission by band */
    double gel_mired; /* shift of an ideal gel [mired], over 0 warmer; 0: none */

    vs_strength_kind strength;
    double value, lux_at_m;
    size_t fed_by;    /* FED: index of the feeding light */
    double fed_share; /* FED: transmittance (lit from behind) or reflectance (lit from the front) */
    bool fed_front;   /* FED: a bounce */
    double fed_direct; /* FED: share of light that passes straight through */

    vs_vec3 at_m;               /* LAMP, SPOT, PANEL (centre), PHOTOMETRY; TUBE: from */
    vs_vec3 aim_m;              /* SPOT, PANEL, PHOTOMETRY: a point it faces; TUBE: to */
    vs_vec3 travel;             /* SUN: unit vector of travel */
    size_t through;             /* SUN, SKY: index of the opening */
    bool is_part;               /* SUN, SKY through several openings: a further part ... */
    size_t part_of;             /* ... of that light, whose name it has */
    double beam_rad, field_rad; /* SPOT: full angles; field NaN where not given */
    double width_m, height_m;   /* PANEL */
    double roll_rad;            /* PHOTOMETRY */
    vs_photometric_table table; /* PHOTOMETRY */
} vs_light;

#ifdef __cplusplus
}
#endif
#endif
