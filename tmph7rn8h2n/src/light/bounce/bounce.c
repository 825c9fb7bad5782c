/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "light/bounce/bounce.h"
int bounce(void) { return 1; }
