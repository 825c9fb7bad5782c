/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A path that direct light takes from an emitter to where it ends, room by room. Private to
 * src/light. */
#ifndef VEILSTOP_LIGHT_TRACING_DIRECT_H
#define VEILSTOP_LIGHT_TRACING_DIRECT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#define VS_DIRECT_ROOMS_MAX 4 /* rooms that direct light is followed through */

/* Light straight from the emitter on one patch or pool, by one path through rooms and nets. */
typedef struct {
    uint32_t target, room_count;
    double lumens;                         /* that the surface stops, in clear air */
    uint16_t room[VS_DIRECT_ROOMS_MAX];    /* crossed */
    double length_m[VS_DIRECT_ROOMS_MAX];  /* the mean path in each */
    double spread_m2[VS_DIRECT_ROOMS_MAX]; /* its variance */
} vs_direct;

/* Whether two paths have the same target and lead through the same rooms; then they can be joined
 * into one of their mean length and its spread: haze dims both alike to the second order of
 * that. */
static inline bool vs_direct_alike(const vs_direct *a, const vs_direct *b) {
    return a->target == b->target && a->room_count == b->room_count &&
           memcmp(a->room, b->room, sizeof a->room) == 0; /* those not crossed are 0 */
}
/* Adds a room to a path, unless it is its last already. False: too many rooms. */
bool vs_direct_enter(vs_direct *path, size_t room);
void vs_direct_join(vs_direct *all, const vs_direct *one);
/* What haze leaves of such light [1]. rate: extinction over the rooms' given one */
double vs_direct_passes(const vs_direct *path, const double *room_extinction_per_m, double rate);

#endif
