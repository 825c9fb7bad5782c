/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_optics
#define H_optics
int optics(void);
#endif
