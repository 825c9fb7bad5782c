/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shot/choose/choose.h"
#include "shot/choose/more.h"
int choose(void) { return more(); }
