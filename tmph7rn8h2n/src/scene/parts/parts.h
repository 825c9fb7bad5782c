/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_parts
#define H_parts
int parts(void);
#endif
