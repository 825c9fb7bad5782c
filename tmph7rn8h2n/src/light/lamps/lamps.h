/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_lamps
#define H_lamps
int lamps(void);
#endif
