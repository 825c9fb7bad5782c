/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_base
#define H_base
int base(void);
#endif
