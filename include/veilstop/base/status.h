/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What can go wrong, as one list that generates the enum and its texts. A function that can fail
 * returns a vs_status; on failure its outputs are NaN, zero or NULL. */
#ifndef VEILSTOP_BASE_STATUS_H
#define VEILSTOP_BASE_STATUS_H

#ifdef __cplusplus
extern "C" {
#endif

/** X(enum member, text for people). The order is part of the binary interface: append only. */
#define VS_STATUS_LIST(X)                                                                          \
    X(VS_OK, "done")                                                                               \
    X(VS_ERR_DOMAIN, "an argument is outside the range in which the question has an answer")       \
    X(VS_ERR_MEMORY, "out of memory")                                                              \
    X(VS_ERR_CONVERGENCE, "the numbers did not converge")                                          \
    X(VS_ERR_INPUT, "the input is not valid")                                                      \
    X(VS_ERR_FILE, "a file could not be read or written")                                          \
    X(VS_ERR_UNREACHABLE, "what is asked for cannot be reached")

typedef enum {
#define VS_STATUS_MEMBER(member, text) member,
    VS_STATUS_LIST(VS_STATUS_MEMBER)
#undef VS_STATUS_MEMBER
} vs_status;

#if defined(__GNUC__)
#define VS_WARN_UNUSED __attribute__((warn_unused_result))
#else
#define VS_WARN_UNUSED
#endif

/** One short English clause for a status; never NULL, even for a number that is not a status. */
const char *vs_status_text(vs_status status);

#ifdef __cplusplus
}
#endif
#endif
