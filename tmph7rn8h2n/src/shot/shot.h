/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_shot
#define H_shot
int shot(void);
#endif
