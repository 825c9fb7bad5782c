/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "shot/scene/scene.h"
int scene(void) { return 1; }
