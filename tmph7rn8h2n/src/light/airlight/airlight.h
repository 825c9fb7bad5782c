/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_airlight
#define H_airlight
int airlight(void);
#endif
