/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One more row in each table of kinds, included first by a source that is compiled with it:
 * test_extra_rows.c shows that this is enough for a new want, kind of light and curve. */
#ifndef VEILSTOP_TESTS_EXTRA_ROWS_H
#define VEILSTOP_TESTS_EXTRA_ROWS_H

#define VS_WANT_EXTRA_ROWS(X)                                                                      \
    X(OUTLOOK, "outlook", NOTHING, HOLDS_BACK, AT_LEAST_M, sight, "outlook of at least", "outlook")

#define VS_LIGHT_EXTRA_ROWS(X) X(GLOBE, "globe", VS_LIGHT_PLAIN, "at lumens", lamp, nothing)

#define VS_CURVE_EXTRA_ROWS(X) X(TWIN, "twin", srgb_encode, srgb_decode, MONCURVE)

#endif
