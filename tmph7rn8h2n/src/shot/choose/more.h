/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_more
#define H_more
#include "shot/choose/choose.h"
int more(void);
#endif
