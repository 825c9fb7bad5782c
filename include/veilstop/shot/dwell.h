/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Haze over a day of shots: how long to run the hazer, when to roll, how to hold, when it is clear.
 * The rooms are those of air/rooms.h (well mixed, linked); the rules of the plan are below. */
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
#define VS_DWELL_CLEAR_LOSS   0.01    /* [1] contrast lost over the longest sight when clear */
#define VS_DWELL_DAY_MAX_S    2592000 /* [s] the longest schedule planned: 30 days */

/** What is done or happens, with its word in files. */
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
    X(VS_DWELL_WEAK, "hazer_too_weak")               /* losses take it as fast as it comes */      \
    X(VS_DWELL_SLOW_FILL, "over_two_hours_to_fill")  /* the hazer would, but late */               \
    X(VS_DWELL_SLOW_MIXING, "over_two_hours_to_mix") /* running and waiting together */            \
    X(VS_DWELL_SLOW_FALL, "over_two_hours_to_thin")                                                \
    X(VS_DWELL_OVERSHOOT, "shortest_burst_overshoots")                                             \
    X(VS_DWELL_TAKES, "silent_too_long")        /* takes leave too few gaps to hold */             \
    X(VS_DWELL_BURSTS, "burst_limits")          /* bursts it can make are too short or too long */ \
    X(VS_DWELL_DRIFT, "drifts")                 /* haze from or to other rooms moves it */         \
    X(VS_DWELL_REMOTE, "hazer_in_another_room") /* what it does arrives late */

typedef enum {
#define VS_DWELL_MEMBER(member, word) member,
    VS_DWELL_TROUBLE_LIST(VS_DWELL_MEMBER)
#undef VS_DWELL_MEMBER
} vs_dwell_trouble;

const char *vs_dwell_trouble_word(vs_dwell_trouble trouble);

/** Even bursts over a part of a shot, or a single one (count 1). burst_s 0: none. */
typedef struct {
    double from_s, length_s; /* from the shot's start */
    double first_s;          /* start of the first burst, from from_s */
    double burst_s, every_s; /* length; start to start of one group of bursts and the next */
    size_t group;            /* bursts in a row, at least 1; over 1 only in a reset */
    double spacing_s;        /* start to start within a group */
    size_t count;            /* bursts in all */
} vs_dwell_bursts;

/** Start of burst i, from from_s [s]. */
static inline double vs_dwell_burst_start_s(const vs_dwell_bursts *bursts, size_t i) {
    return bursts->first_s + (double)(i / bursts->group) * bursts->every_s +
           (double)(i % bursts->group) * bursts->spacing_s;
}

#define VS_DWELL_BURSTS_MAX                                                                        \
    32 /* series of bursts in one shot, one burst each where they are uneven:                            \
        * more is nobody's run sheet; our choice */

typedef struct {
    size_t shot, room; /* index in the scene; the room of its camera, which is controlled */
    double target_extinction_per_m;
    double held_extinction_per_m; /* the target, or what can be reached */
    double start_s, end_s;        /* of the day */
    double run_s;                 /* full output before the start */
    double wait_s;                /* from the end of the run to the start, purging included */
    double purge_s;
    double stop_ratio; /* density over target when the run stops; NaN without a run */
    vs_dwell_bursts bursts[VS_DWELL_BURSTS_MAX];
    size_t bursts_count;
    vs_dwell_bursts hold;               /* the series that lasts longest */
    double lowest_ratio, highest_ratio; /* density over target while it lasts; NaN: target 0 */
    vs_dwell_trouble fill_trouble, hold_trouble;
    double within_reach_per_m; /* WEAK: the most that losses allow; OVERSHOOT: what a shortest burst
                                * leads to; else NaN */
} vs_dwell_shot;

typedef struct {
    double at_s;
    vs_dwell_do act;
    size_t shot;     /* index in the scene, or VS_NONE */
    double length_s; /* 0: a moment */
} vs_dwell_event;

typedef struct {
    vs_rooms_loss loss;
    double half_life_s; /* INFINITY where nothing is lost */
    double peak_g_per_m3, peak_at_s;
    double volume_m3;
} vs_dwell_room;

/** What happens from one sample to the next. */
typedef struct {
    double unmixed_g; /* at the sample: haze that has left the hazer and not mixed in */
    double output_g_per_s;
    bool purged;
    size_t air; /* of the plan's */
} vs_dwell_way;

/** How haze moves with the openings as some of the shots set them. */
typedef struct {
    const double *open; /* of those shots; NULL: as the scene stands */
    vs_rooms_model closed, purging;
} vs_dwell_air;

/** A plan. Owns its arrays. */
typedef struct {
    vs_dwell_room *room; /* as the scene's */
    size_t room_count;
    vs_dwell_shot *shot; /* in the order they are played */
    size_t shot_count;
    double *held_per_m;    /* place in the day x room: the density that questions about that shot
                            * give each room (held.h); the plan steers the camera's alone */
    vs_dwell_event *event; /* by time */
    size_t event_count, event_size;
    double *sample_s;        /* every minute and at every event */
    double *sample_g_per_m3; /* sample x room */
    vs_dwell_way *way;       /* one a sample */
    size_t sample_count, sample_size;
    vs_dwell_air *air; /* the first as the scene stands: for between the samples */
    size_t air_count;
    double extinction_m2_per_g; /* at 549 nm: density x this = extinction [1/m] */
    double end_s;               /* of the last shot */
    double longest_sight_m;     /* camera to point, or a room's diagonal where no shot has points */
    double clear_extinction_per_m;
    double
        clear_s; /* from the end of the last shot, purging where a room can; NaN: not within 7 d */
    double clear_closed_s; /* the same without purging */
    bool purged;           /* whether the clearing does */
    double fluid_ml;
    vs_rooms_budget budget; /* once clear */
    size_t culprit; /* the shot that prevents a plan, on VS_ERR_INPUT and VS_ERR_UNREACHABLE */
} vs_dwell;

/** Plans a day.
 *  scene             borrowed; validated as by the scene reader
 *  haze              of the scene's fluid
 *  order             shot_count indices, each once; NULL: the order of the scene
 *  extinction_per_m  one a shot of the scene, in its camera's room [1/m, 0 or over]; NULL: the
 *                    shot's own density
 *  dwell             out; vs_dwell_free it on VS_OK
 *  Errors: VS_ERR_INPUT where a density is open, or haze is wanted and there is no hazer;
 *  VS_ERR_UNREACHABLE where no opening leads haze to a room; culprit names the shot in both.
 *  VS_ERR_DOMAIN for a camera outside every room or a day over 30 days, VS_ERR_MEMORY,
 *  VS_ERR_CONVERGENCE. A target that cannot be met is no error: see the troubles.
 *  Method: the machine is switched on at minute 0 and stays warm. Before a shot it runs until the
 *  haze, once mixed in, will peak at the target; the shot begins when the density is within 5 %.
 *  Too thick: wait, or purge where that saves over two minutes. While it lasts, equal bursts,
 *  evenly apart (in the resets between takes, where takes are given), keep the mean at the target;
 *  the longest interval that stays well inside 10 % is taken, the shot is divided where one
 *  pattern cannot hold it, and where even bursts cannot at all, its first part gets bursts of
 *  different lengths, fitted by least squares to what they do later. None where the density stays
 *  within 5 % by itself. Openings are as a shot sets them from the end of the shot before it to its
 *  own; after the last, as the scene has them. At the end all rooms are left, or purged, until
 *  clear.
 *  Checked: tests/unit/test_dwell.c, against closed forms. */
VS_WARN_UNUSED vs_status vs_dwell_plan(const vs_scene *scene, const vs_haze *haze,
                                       const size_t *order, const double *extinction_per_m,
                                       vs_dwell *dwell);
void vs_dwell_free(vs_dwell *dwell);

/** Whether shot `place` of the day is played before another that it must come after.
 *  which  0, 1 ..: which of those it must come after, as the scene names them */
bool vs_dwell_too_early(const vs_dwell *dwell, const vs_scene *scene, size_t place, size_t which);

/** When a room's haze first reaches an extinction [s]: the root of the rooms' own curve, not of
 *  lines
 *  between samples. NaN: never.
 *  room              index
 *  extinction_per_m  at 549 nm, over 0
 *  Checked: tests/unit/test_dwell.c, against the closed form of a fill. */
double vs_dwell_first_at_s(const vs_dwell *dwell, size_t room, double extinction_per_m);

/** Whether all of it can be done: no trouble at any shot, and the rooms clear in the end. */
bool vs_dwell_met(const vs_dwell *dwell);

/** Velocity at which a fluid's haze settles [m/s]: as measured, or from its droplets' sizes. */
double vs_dwell_settling_m_per_s(const vs_fluid *fluid);

/** Mass of droplets a scene's hazer puts into the air [g/s]: fluid rate x density x share that is
 *  not water x share that stays in the air. 0 without a hazer. */
double vs_dwell_output_g_per_s(const vs_scene *scene);

/** Share of the hazers' output that goes into a room [1]: 0 to 1. */
double vs_dwell_share_in(const vs_scene *scene, size_t room);

/** Air through an opening each way [m3/s]: as given, or by the doorway formula (0 to outside).
 *  Where a shot sets how far it is open, that share of it goes. */
double vs_dwell_exchange_m3_per_s(const vs_scene_opening *opening);

/** The room a point lies in (its closed box; the first if several), or VS_OUTSIDE. */
size_t vs_dwell_room_at(const vs_scene *scene, vs_vec3 at_m);

#ifdef __cplusplus
}
#endif
#endif
