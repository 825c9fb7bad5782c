/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "base/base.h"
int base(void) { return 1; }
