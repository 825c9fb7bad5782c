/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/grade/grade.h"
int grade(void) { return 1; }
