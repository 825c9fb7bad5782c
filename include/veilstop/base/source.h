/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a figure is known: the status beside it in every data file. */
#ifndef VEILSTOP_BASE_SOURCE_H
#define VEILSTOP_BASE_SOURCE_H

#ifdef __cplusplus
extern "C" {
#endif

/** X(enum member, its word in files). */
#define VS_SOURCE_LIST(X)                                                                          \
    X(VS_SOURCE_READ, "read")         /* in the source named, or in a text that quotes it */       \
    X(VS_SOURCE_MEMORY, "memory")     /* from memory of the source named */                        \
    X(VS_SOURCE_PRACTICE, "practice") /* common practice, no source */                             \
    X(VS_SOURCE_DERIVED, "derived")   /* worked out from others */                                 \
    X(VS_SOURCE_ASSUMED, "assumed")   /* an assumption */

typedef enum {
#define VS_SOURCE_MEMBER(member, word) member,
    VS_SOURCE_LIST(VS_SOURCE_MEMBER)
#undef VS_SOURCE_MEMBER
} vs_source_status;
#define VS_SOURCE_STATUS_COUNT (VS_SOURCE_ASSUMED + 1)

/** The words in files, in the order of the enum. */
extern const char *const vs_source_words[VS_SOURCE_STATUS_COUNT];

#ifdef __cplusplus
}
#endif
#endif
