/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze over a day of shots: how long to run the hazer, when to roll, how to hold the density, when
 * the rooms are clear. The rooms are those of air/rooms.h (well mixed, linked); the rules of the
 * plan are below. */
#ifndef VEILSTOP_SHOT_DWELL_H
#define VEILSTOP_SHOT_DWELL_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/air/rooms.h"
#include "veilstop/base/status.h"
#include "veilstop/optics/haze.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/* The rules of the plan. */
#define VS_DWELL_START_WITHIN 0.05    /* [1] of the target, when a shot begins */
#define VS_DWELL_HOLD_WITHIN  0.10    /* [1] of the target, while it lasts */
#define VS_DWELL_LIMIT_S      7200.0  /* [s] what takes longer counts as out of reach */
#define VS_DWELL_CLEAR_LOSS   0.01    /* [1] contrast lost over the longest line when clear */
#define VS_DWELL_DAY_MAX_S    2592000 /* [s] the longest schedule planned: 30 days */

/** Actions and events, with their words in files. */
#define VS_DWELL_DO_LIST(X)                                                                        \
    X(VS_DWELL_WARM_UP, "warm_up") /* the hazer is switched on; no haze yet */                     \
    X(VS_DWELL_RUN, "run")         /* full output */                                               \
    X(VS_DWELL_PURGE, "purge")     /* doors and fans open */                                       \
    X(VS_DWELL_WAIT, "wait")       /* for haze to mix in, arrive or thin out */                    \
    X(VS_DWELL_START, "start")     /* a shot begins */                                             \
    X(VS_DWELL_BURST, "burst")     /* full output, to hold */                                      \
    X(VS_DWELL_END, "end")         /* the shot is over */                                          \
    X(VS_DWELL_CLEAR, "clear")     /* every room is clear */

typedef enum {
#define VS_DWELL_MEMBER(member, word) member,
    VS_DWELL_DO_LIST(VS_DWELL_MEMBER)
#undef VS_DWELL_MEMBER
} vs_dwell_do;

/** The word for it; never NULL. */
const char *vs_dwell_do_word(vs_dwell_do act);

/** Why a density is not reached or not held, with its word in files. */
#define VS_DWELL_TROUBLE_LIST(X)                                                                   \
    X(VS_DWELL_FINE, "none")                                                                       \
    X(VS_DWELL_WEAK, "hazer_too_weak")               /* losses equal its output */                 \
    X(VS_DWELL_SLOW_FILL, "over_two_hours_to_fill")  /* reachable, but too late */                 \
    X(VS_DWELL_SLOW_MIXING, "over_two_hours_to_mix") /* running and waiting together */            \
    X(VS_DWELL_SLOW_FALL, "over_two_hours_to_thin")                                                \
    X(VS_DWELL_OVERSHOOT, "shortest_burst_overshoots")                                             \
    X(VS_DWELL_TAKES, "silent_too_long")        /* takes leave too few gaps for bursts */          \
    X(VS_DWELL_BURSTS, "burst_limits")          /* bursts it can make are too short or too long */ \
    X(VS_DWELL_DRIFT, "drifts")                 /* exchange with other rooms */                    \
    X(VS_DWELL_REMOTE, "hazer_in_another_room") /* its haze arrives late */

typedef enum {
#define VS_DWELL_MEMBER(member, word) member,
    VS_DWELL_TROUBLE_LIST(VS_DWELL_MEMBER)
#undef VS_DWELL_MEMBER
} vs_dwell_trouble;

const char *vs_dwell_trouble_word(vs_dwell_trouble trouble);

/** Evenly spaced bursts over a part of a shot, or a single one (count 1). burst_s 0: none. */
typedef struct {
    double from_s, length_s; /* from the shot's start */
    double first_s;          /* start of the first burst, from from_s */
    double burst_s, every_s; /* length; from the start of one group of bursts to the next */
    size_t group;            /* bursts in a row, at least 1; over 1 only in a reset */
    double spacing_s;        /* start to start within a group */
    size_t count;            /* bursts in all */
} vs_dwell_bursts;

/** Start of burst i, from from_s [s]. */
static inline double vs_dwell_burst_start_s(const vs_dwell_bursts *bursts, size_t i) {
    return bursts->first_s + (double)(i / bursts->group) * bursts->every_s +
           (double)(i % bursts->group) * bursts->spacing_s;
}

/* series of bursts in one shot, of one burst each if uneven: no run sheet has more; our choice */
#define VS_DWELL_BURSTS_MAX 32

typedef struct {
    size_t shot, room; /* index in the scene; its camera's room, whose density is controlled */
    double target_extinction_per_m;
    double held_extinction_per_m; /* the target, or what can be reached */
    double start_s, end_s;        /* times of day */
    double run_s;                 /* full output before the start */
    double wait_s;                /* from the end of the run to the start, purging included */
    double purge_s;
    double stop_ratio; /* density over target when the run stops; NaN without a run */
    vs_dwell_bursts bursts[VS_DWELL_BURSTS_MAX];
    size_t bursts_count;
    vs_dwell_bursts hold;               /* the series that lasts longest */
    double lowest_ratio, highest_ratio; /* density over target while it lasts; NaN: target 0 */
    vs_dwell_trouble fill_trouble, hold_trouble;
    double within_reach_per_m; /* WEAK: the most that losses allow; OVERSHOOT: the result of a
                                * shortest burst; else NaN */
} vs_dwell_shot;

typedef struct {
    double at_s;
    vs_dwell_do act;
    size_t shot;     /* index in the scene, or VS_NONE */
    double length_s; /* 0: instantaneous */
} vs_dwell_event;

typedef struct {
    vs_rooms_loss loss;
    double half_life_s; /* INFINITY if there are no losses */
    double peak_g_per_m3, peak_at_s;
    double volume_m3;
} vs_dwell_room;

/** What happens from one sample to the next. */
typedef struct {
    double unmixed_g; /* at the sample: haze that has left the hazer but not mixed in */
    double output_g_per_s;
    bool purged;
    size_t air; /* index in the plan's air */
} vs_dwell_way;

/** The air exchange with the openings as set by some of the shots. */
typedef struct {
    const double *open; /* of those shots; NULL: as in the scene */
    vs_rooms_model closed, purging;
} vs_dwell_air;

/** A plan. Owns its arrays. */
typedef struct {
    vs_dwell_room *room; /* as in the scene */
    size_t room_count;
    vs_dwell_shot *shot; /* in order of shooting */
    size_t shot_count;
    double *held_per_m;    /* place in the day x room: the density of each room in questions about
                            * that shot (held.h); the plan controls only the camera's */
    vs_dwell_event *event; /* in order of time */
    size_t event_count, event_size;
    double *sample_s;        /* every minute and at every event */
    double *sample_g_per_m3; /* sample x room */
    vs_dwell_way *way;       /* one per sample */
    size_t sample_count, sample_size;
    vs_dwell_air *air; /* the first with the scene's openings; for interpolation between samples */
    size_t air_count;
    double extinction_m2_per_g; /* at 549 nm: density x this = extinction [1/m] */
    double end_s;               /* of the last shot */
    double longest_sight_m;     /* camera to point, or a room's diagonal if no shot has points */
    double clear_extinction_per_m;
    double clear_s; /* from the end of the last shot, purging if possible; NaN: not within 7 d */
    double clear_closed_s; /* the same without purging */
    bool purged;           /* whether the clearing purges */
    double fluid_ml;
    vs_rooms_budget budget; /* once clear */
    size_t culprit; /* on VS_ERR_INPUT and VS_ERR_UNREACHABLE: the shot that prevents a plan */
} vs_dwell;

/** Plans a day.
 *  scene             borrowed; validated as by the scene reader
 *  haze              of the scene's fluid
 *  order             shot_count indices, each once; NULL: the order of the scene
 *  extinction_per_m  one per shot of the scene, in its camera's room [1/m, 0 or over]; NULL: the
 *                    shot's own density
 *  dwell             out; vs_dwell_free it on VS_OK
 *  Errors: VS_ERR_INPUT if a density is open, or haze is wanted without a hazer; VS_ERR_UNREACHABLE
 *  if no opening leads haze to a room; culprit names the shot for both. VS_ERR_DOMAIN for a camera
 *  outside every room or a day over 30 days, VS_ERR_MEMORY, VS_ERR_CONVERGENCE. A target that
 *  cannot be met is not an error: see the troubles.
 *  Method: the machine is switched on at minute 0 and stays warm. Before a shot it runs until the
 *  haze, once mixed in, will peak at the target; the shot begins when the density is within 5 %.
 *  If too thick: wait, or purge if that saves over two minutes. While the shot lasts, equal, evenly
 *  spaced bursts (in the resets between takes, if takes are given) keep the mean at the target; the
 *  longest interval that stays well inside 10 % is taken, the shot is divided if one pattern cannot
 *  hold it, and if even bursts cannot, its first part gets bursts of different lengths, fitted by
 *  least squares to their later effect. There are none if the density stays within 5 % by itself.
 *  Openings are as a shot sets them from the end of the previous shot to its own end; after the
 *  last, as in the scene. At the end all rooms are left alone, or purged, until clear.
 *  Checked: tests/unit/test_dwell.c, against closed forms. */
VS_WARN_UNUSED vs_status vs_dwell_plan(const vs_scene *scene, const vs_haze *haze,
                                       const size_t *order, const double *extinction_per_m,
                                       vs_dwell *dwell);
void vs_dwell_free(vs_dwell *dwell);

/** Whether shot `place` of the day comes before another that it must follow.
 *  which  0, 1 ..: which of those it must follow, in the scene's order */
bool vs_dwell_too_early(const vs_dwell *dwell, const vs_scene *scene, size_t place, size_t which);

/** When a room's haze first reaches an extinction [s]: the root of the rooms' own curve, not of the
 *  lines between samples. NaN: never.
 *  room              index
 *  extinction_per_m  at 549 nm, over 0
 *  Checked: tests/unit/test_dwell.c, against the closed form of a fill. */
double vs_dwell_first_at_s(const vs_dwell *dwell, size_t room, double extinction_per_m);

/** Whether everything can be done: no trouble in any shot, and the rooms clear in the end. */
bool vs_dwell_met(const vs_dwell *dwell);

/** Settling velocity of a fluid's haze [m/s]: as measured, or from its droplet sizes. */
double vs_dwell_settling_m_per_s(const vs_fluid *fluid);

/** Mass of droplets that a scene's hazer emits [g/s]: fluid rate x density x nonvolatile share x
 *  share that stays airborne. 0 without a hazer. */
double vs_dwell_output_g_per_s(const vs_scene *scene);

/** Share of the hazers' output emitted in a room [1]: 0 to 1. */
double vs_dwell_share_in(const vs_scene *scene, size_t room);

/** Air through an opening each way [m3/s]: as given, or by the formula of a doorway or,
 *  where it lies flat, of a hole (0 to outside). If a
 *  shot sets how far it is open, multiply by that share. */
double vs_dwell_exchange_m3_per_s(const vs_scene_opening *opening);

/** The room that contains a point (as a closed box; the first if several), or VS_OUTSIDE. */
size_t vs_dwell_room_at(const vs_scene *scene, vs_vec3 at_m);

#ifdef __cplusplus
}
#endif
#endif
