/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density for a shot: all that meet its wants, the one to take, and what to do if none does.
 * Wants and their margins are those of shot/want.h; densities are searched from clear air to an
 * optical depth of 3 over the shot's longest line of sight. */
#ifndef VEILSTOP_SHOT_CHOOSE_H
#define VEILSTOP_SHOT_CHOOSE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/intervals.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

#ifdef __cplusplus
extern "C" {
#endif

/* The rules of the choice. */
#define VS_CHOOSE_DEPTH_MAX  3.0  /* [1] optical depth at which the search ends */
#define VS_CHOOSE_OF_HIGHEST 0.7  /* [1] of the highest, if all wants limit the haze */
#define VS_CHOOSE_OF_LOWEST  1.15 /* [1] of the lowest, if all wants ask for haze */
#define VS_CHOOSE_DIM_MAX    8.0  /* [stops] a lamp dimmed further is better switched off */

/** Why no density meets a want. */
typedef enum {
    VS_REACHED,          /* some density does */
    VS_UNREACHED_HIDDEN, /* its subject is behind something opaque */
    VS_UNREACHED_DARK,   /* its lamp gives no light in this shot */
    VS_UNREACHED_BESIDE, /* its beam does not cross that line of sight */
    VS_UNREACHED_WEAK    /* it comes no closer than at best_per_m */
} vs_unreached;

/** The role of one want in the choice. */
typedef struct {
    double at_least_per_m, at_most_per_m; /* of the densities that meet it; NaN: no such limit */
    bool possible;                        /* some density meets it; otherwise it is set aside */
    vs_unreached why;                     /* if none does */
    size_t hidden_point;                  /* HIDDEN: a point of the shot; VS_NONE: a beam's place */
    double best_per_m;                    /* if none does: the density that comes closest, */
    vs_want_result best;                  /* and how close */
    vs_want_result least;                 /* if no haze is needed: at the least haze */
    bool binds_lowest, binds_highest;     /* it sets this end of the shot's densities */
    bool in_conflict;           /* one of the fewest wants that no density meets together */
    vs_want_result recommended; /* at the recommended density */
    vs_want_result planned;     /* at the planned one */
} vs_choice_want;

/** How to meet a want to look like another shot. */
typedef struct {
    size_t want;
    double other_per_m;      /* the other shot's density */
    double same_haze_stops;  /* veil over the other's, both at that density */
    double extinction_per_m; /* gives the other's veil; NaN if none does */
    size_t light;            /* that makes most of the veil at the other's density; VS_NONE: none */
    double dimmer;           /* of it, gives the other's veil at the other's density; NaN: none */
} vs_choice_like;

/** The one lamp that would mend a shot at its planned density. */
typedef struct {
    size_t dim_light;  /* VS_NONE: no lamp does it by dimming */
    double dim_stops;  /* the fewest stops that do; INFINITY: only by switching it off */
    size_t flag_light; /* to flag off the air in front of the camera; VS_NONE: that mends nothing */
} vs_choice_mend;

/** One shot's choice. Owns its arrays. Extinctions at 549 nm in the camera's room. */
typedef struct {
    size_t shot;
    double search_end_per_m;
    size_t nodes;       /* densities predicted to model the shot's light; 0 without wants */
    double least_per_m; /* the least haze (held.h) */
    double most_per_m;  /* that the hazers can keep there (held.h); INFINITY: no limit */
    vs_intervals meets; /* densities that meet all wants that any density meets */
    bool agree;         /* there are some */
    bool met;           /* every want can be met, by clear air or by haze not below the least */
    bool none_needed;   /* clear air meets all, and the density recommended otherwise is
                       * below the least haze: 0 is recommended */
    bool too_thin;      /* there are some, but all below the least haze */
    double lowest_per_m, highest_per_m; /* of `meets`; NaN if empty */
    double recommended_per_m;   /* from `meets` or, if empty, the density that misses least; 0 or
                                 * not below the least haze; without wants the shot's own */
    double given_per_m;         /* the shot's own; NaN if open */
    double planned_per_m;       /* the given one, or else the recommended */
    bool planned_met;           /* it meets all wants */
    double *planned_room_per_m; /* one per room, at the planned density */
    vs_choice_want *want;       /* one per want of the shot */
    size_t want_count;
    vs_choice_like *like;
    size_t like_count;
    vs_choice_mend mend;
} vs_choice;

/** The choices of a scene. Owns them. */
typedef struct {
    vs_choice *shot; /* one per shot of the scene */
    size_t shot_count;
    size_t culprit; /* on VS_ERR_INPUT: a shot in a circle of shots that must look like each other,
                     * or one without density and wants; else VS_NONE */
} vs_choices;

/** How much is worked out. */
typedef enum {
    VS_CHOOSE_OPEN,      /* the same, but nothing of shots that give a density */
    VS_CHOOSE_DENSITIES, /* lowest, highest, recommended, planned */
    VS_CHOOSE_ADVICE     /* and the limits of each want, conflicts, likes, mends */
} vs_choose_depth;

/** Chooses for every shot of the predictor's scene.
 *  only     this shot alone, with those it must look like; VS_NONE: all
 *  choices  out; free it on VS_OK. Shots not asked for have NaN densities and no wants.
 *  A shot that gives a density keeps it, for shots that must look like it and for the day's plan;
 *  one that leaves it open gets the recommended one. Other rooms follow held.h.
 *  Recommended: the density with the largest smallest margin; 0.7 of the highest if all wants limit
 *  the haze (contrast, black, glow, sight), 1.15 of the lowest if all ask for it (beam,
 *  separation), as long as that meets them all; never below the least haze, unless clear air meets
 *  them all. Wants that no density meets even alone are set aside first.
 *  Errors: VS_ERR_INPUT if open shots must look like each other, and those of vs_predict_shot.
 *  Method: docs/physics.md, "Choosing a density".
 *  Checked: tests/unit/test_choose.c */
VS_WARN_UNUSED vs_status vs_choose(vs_predictor *predictor, size_t only, vs_choose_depth depth,
                                   vs_choices *choices);
void vs_choices_free(vs_choices *choices);

/** Chooses again for a scene that differs little from an earlier one: lowest, highest, recommended
 *  and planned to about a thousandth, with as many predictions as before but none for checking or
 *  refining.
 *  before  the choices for a scene with the same shots, all of them.  Errors: those of
 *          vs_choose. */
VS_WARN_UNUSED vs_status vs_choose_again(vs_predictor *predictor, const vs_choices *before,
                                         vs_choices *choices);

#ifdef __cplusplus
}
#endif
#endif
