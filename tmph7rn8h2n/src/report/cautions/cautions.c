/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/cautions/cautions.h"
int cautions(void) { return 1; }
