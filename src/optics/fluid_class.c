/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of vs_fluid_class. */
#include "veilstop/optics/haze.h"

const char *const vs_fluid_class_words[VS_FLUID_CLASS_COUNT] = {"glycol", "glycerol", "oil"};
