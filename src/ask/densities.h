/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Densities of the camera's room given on the command line, in place of the shots' own: one or a
 * list, in any unit. */
#ifndef VEILSTOP_ASK_DENSITIES_H
#define VEILSTOP_ASK_DENSITIES_H

#include "ask/scene_args.h"
#include "veilstop/optics/haze.h"

#define VS_ASK_DENSITIES_MAX 16 /* in one question: our choice */

#define VS_ASK_DENSITY_OPTIONS                                                                     \
    {"extinction", "X[,Y..]", "at these densities in the camera's room, /m"},                      \
        {"visibility", "L[,M..]", "or at these visibilities: 100, \"300 ft\""},                    \
        {"mass", "X[,Y..]", "or with so much in the air, mg/m3"}, {                                \
        "haze", "WORD[,WORD..]", "or thin, medium, heavy: 0.01, 0.03, 0.08 /m"                     \
    }

typedef struct {
    const char *word; /* thin, medium or heavy; NULL: a figure */
    double value;     /* extinction [1/m], or mass [g/m3] if by_mass */
    bool by_mass;
} vs_ask_density;

typedef struct {
    vs_ask_density item[VS_ASK_DENSITIES_MAX];
    size_t count; /* 0: none given */
} vs_ask_densities;

/* Reads the one of these options that is given. VS_EXIT_USAGE after a message. */
vs_exit vs_ask_densities_read(const vs_ask_args *args, vs_length_unit units,
                              vs_ask_densities *densities);

/* The extinction of a density in the camera's room at 549 nm [1/m]. */
double vs_ask_density_per_m(const vs_ask_density *density, const vs_haze *haze);

#endif
