/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/commands/commands.h"
int commands(void) { return 1; }
