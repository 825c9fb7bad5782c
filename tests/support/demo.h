/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Means for the library's front door (vs_ask): it reads files of the project by their paths from its
 * root, as a scene of data/demo names them. */
#ifndef VEILSTOP_TESTS_DEMO_H
#define VEILSTOP_TESTS_DEMO_H

#include "veilstop/ask/ask.h"

extern const vs_ask_means demo_means;

#endif
