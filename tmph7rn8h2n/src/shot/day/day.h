/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_day
#define H_day
int day(void);
#endif
