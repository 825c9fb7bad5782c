/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_view
#define H_view
int view(void);
#endif
