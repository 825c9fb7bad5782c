/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shot/choose/more.h"
int more(void) { return 2; }
