/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What lines of sight and places on surfaces see of bounced light, kept from one haze to the next.
 */
#ifndef VEILSTOP_PICTURE_VIEW_SEEN_H
#define VEILSTOP_PICTURE_VIEW_SEEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "veilstop/light/bounce.h"

typedef struct {
    uint32_t key; /* of a place of the grid, plus one; 0: empty */
    vs_bounce_view view;
} vs_seen_item;

typedef struct {
    vs_seen_item *item;
    size_t count, size; /* size: a power of two */
    size_t bytes;       /* that views hold */
} vs_seen;

void vs_seen_free(vs_seen *seen);

/* The view kept under a key; NULL where there is none. */
vs_bounce_view *vs_seen_find(const vs_seen *seen, uint32_t key);

/* Keeps a view that is not kept yet, and takes it over. False where there is no more room for it:
 * it stays the caller's. */
bool vs_seen_keep(vs_seen *seen, uint32_t key, const vs_bounce_view *view);

#endif
