/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Faults in a user's input: where, what would be right, what was found. A list holds the first
 * VS_FAULT_MAX faults of one input and counts the rest, so that one run reports them all. Only the
 * layers that handle files fill it; the physics returns a vs_status. */
#ifndef VEILSTOP_BASE_ERROR_H
#define VEILSTOP_BASE_ERROR_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_FAULT_MAX        20  /* faults listed per file; our choice */
#define VS_FAULT_WHERE_SIZE 192 /* [bytes] our choice */
#define VS_FAULT_TEXT_SIZE  256 /* [bytes] our choice */

/** One fault. Both texts are UTF-8, NUL-terminated, cut between characters if too long, with
 *  control characters escaped, so that each prints on one line. */
typedef struct {
    char where[VS_FAULT_WHERE_SIZE]; /* place inside the input: JSON pointer, "line 12", or "" */
    char text[VS_FAULT_TEXT_SIZE];   /* what would be right, then "(got ...)" */
} vs_fault;

typedef struct {
    vs_fault item[VS_FAULT_MAX];
    size_t count; /* faults kept, at most VS_FAULT_MAX */
    size_t more;  /* faults seen after the list was full */
} vs_faults;

/** Appends a fault; format and arguments as for printf. A full list only counts it.
 *  where, format  borrowed, not NULL. */
void vs_faults_add(vs_faults *faults, const char *where, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 3, 4)))
#endif
    ;

/** Whether any fault was seen. */
bool vs_faults_any(const vs_faults *faults);

#ifdef __cplusplus
}
#endif
#endif
