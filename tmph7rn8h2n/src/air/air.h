/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_air
#define H_air
int air(void);
#endif
