/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_bounce
#define H_bounce
int bounce(void);
#endif
