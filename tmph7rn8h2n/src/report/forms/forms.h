/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_forms
#define H_forms
int forms(void);
#endif
