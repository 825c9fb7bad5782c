/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The density for a shot: all that meet its wants, the one to take, and what to do where none does.
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
#define VS_CHOOSE_OF_HIGHEST 0.7  /* [1] of the highest, where all wants hold the haze back */
#define VS_CHOOSE_OF_LOWEST  1.15 /* [1] of the lowest, where all wants ask for haze */
#define VS_CHOOSE_DIM_MAX    8.0  /* [stops] a lamp dimmed further is better switched off */

/** Why no density meets a want. */
typedef enum {
    VS_REACHED,          /* some does */
    VS_UNREACHED_HIDDEN, /* something opaque stands before what it is about */
    VS_UNREACHED_DARK,   /* its lamp gives no light in this shot */
    VS_UNREACHED_BESIDE, /* its beam does not cross that line of sight */
    VS_UNREACHED_WEAK    /* it comes no nearer than at best_per_m */
} vs_unreached;

/** What one want makes of the choice. */
typedef struct {
    double at_least_per_m, at_most_per_m; /* of the densities that meet it; NaN: no such limit */
    bool possible;                        /* some density meets it; else it is set aside */
    vs_unreached why;                     /* where none does */
    size_t hidden_point;                  /* HIDDEN: a point of the shot; VS_NONE: a beam's place */
    double best_per_m;                    /* where none does: what comes nearest, */
    vs_want_result best;                  /* and how near */
    vs_want_result least;                 /* where no haze is needed: at the least haze */
    bool binds_lowest, binds_highest;     /* it sets that end of the shot's densities */
    bool in_conflict;                     /* one of the fewest wants that no density meets */
    vs_want_result recommended;           /* at the recommended density */
    vs_want_result planned;               /* at the planned one */
} vs_choice_want;

/** How a want to look like another shot can be met. */
typedef struct {
    size_t want;
    double other_per_m;      /* the other shot's density */
    double same_haze_stops;  /* veil over the other's, both at that density */
    double extinction_per_m; /* gives the other's veil; NaN where none does */
    size_t light;            /* makes most of the veil at the other's density; VS_NONE: no light */
    double dimmer;           /* of it, for the other's veil at the other's density; NaN: none */
} vs_choice_like;

/** The one lamp that would mend a shot at its planned density. */
typedef struct {
    size_t dim_light; /* VS_NONE: no lamp does it by dimming */
    double dim_stops; /* the fewest stops that do; INFINITY: only switched off */
    size_t
        flag_light; /* flagged off the air in front of the camera; VS_NONE: no lamp mends it so */
} vs_choice_mend;

/** One shot's choice. Owns its arrays. Extinctions at 549 nm in the camera's room. */
typedef struct {
    size_t shot;
    double search_end_per_m;
    size_t nodes;       /* densities predicted to model the shot's light; 0 without wants */
    double least_per_m; /* the least haze that is worth a name (held.h) */
    vs_intervals meets; /* densities that meet all wants that any density meets */
    bool agree;         /* there are such */
    bool met;         /* every want can be met, by clear air or haze that is not under the least */
    bool none_needed; /* no haze meets all, and so does what else would be recommended, less than
                       * the least: 0 is */
    bool too_thin;    /* there are such, but all of them haze under the least */
    double lowest_per_m, highest_per_m; /* of them; NaN without */
    double recommended_per_m;   /* of them, or, where there are none, what misses least; 0 or not
                                 * under   the least; a shot without wants: its own */
    double given_per_m;         /* the shot's own; NaN where open */
    double planned_per_m;       /* the given one, or else the recommended */
    bool planned_met;           /* it meets all wants */
    double *planned_room_per_m; /* one a room, at the planned density */
    vs_choice_want *want;       /* one a want of the shot */
    size_t want_count;
    vs_choice_like *like;
    size_t like_count;
    vs_choice_mend mend;
} vs_choice;

/** The choices of a scene. Owns them. */
typedef struct {
    vs_choice *shot; /* one a shot of the scene */
    size_t shot_count;
    size_t culprit; /* on VS_ERR_INPUT: a shot that is to be like one that waits for it, or one that
                     * has neither density nor wants; else VS_NONE */
} vs_choices;

/** How far the answer goes. */
typedef enum {
    VS_CHOOSE_OPEN,      /* the same, but nothing of shots that give a density */
    VS_CHOOSE_DENSITIES, /* lowest, highest, recommended, planned */
    VS_CHOOSE_ADVICE     /* and the limits of each want, conflicts, likes, mends */
} vs_choose_depth;

/** Chooses for every shot of the predictor's scene.
 *  only     that shot alone, with those it is to be like; VS_NONE: all
 *  choices  out; free it on VS_OK. Shots not asked for have NaN densities and no wants.
 *  A shot that gives a density keeps it for others to be like, and for the plan of the day; one
 *  that leaves it open takes the recommended. The other rooms have what held.h says.
 *  Recommended: the largest smallest margin over the wants; 0.7 of the highest where all wants hold
 *  haze back (contrast, black, glow, sight), 1.15 of the lowest where all ask for it (beam,
 *  separation), if that meets them all; never less than the least haze, unless no haze meets them
 *  all. Wants that no density meets by itself are set aside first.
 *  Errors: VS_ERR_INPUT where open shots are to be like each other, and those of vs_predict_shot.
 *  Method: docs/physics.md, "Choosing a density".
 *  Checked: tests/unit/test_choose.c */
VS_WARN_UNUSED vs_status vs_choose(vs_predictor *predictor, size_t only, vs_choose_depth depth,
                                   vs_choices *choices);
void vs_choices_free(vs_choices *choices);

/** Chooses anew for a scene that differs little from one chosen for before: lowest, highest,
 *  recommended and planned to about a thousandth, with as many predictions as it took then and none
 *  to check or polish.
 *  before  of a scene with the same shots, all chosen.  Errors: those of vs_choose. */
VS_WARN_UNUSED vs_status vs_choose_again(vs_predictor *predictor, const vs_choices *before,
                                         vs_choices *choices);

#ifdef __cplusplus
}
#endif
#endif
