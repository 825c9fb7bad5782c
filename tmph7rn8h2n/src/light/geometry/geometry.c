/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "light/geometry/geometry.h"
int geometry(void) { return 1; }
