/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report/forms/forms.h"
int forms(void) { return 1; }
