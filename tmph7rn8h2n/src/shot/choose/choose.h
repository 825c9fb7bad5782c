/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_choose
#define H_choose
int choose(void);
#endif
