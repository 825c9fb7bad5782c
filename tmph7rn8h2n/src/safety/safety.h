/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_safety
#define H_safety
int safety(void);
#endif
