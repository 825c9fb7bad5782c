/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_pair
#define H_pair
int pair(void);
#endif
