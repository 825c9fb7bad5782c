/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/report.h"
int report(void) { return 1; }
