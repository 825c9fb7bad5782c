/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_walks
#define H_walks
int walks(void);
#endif
