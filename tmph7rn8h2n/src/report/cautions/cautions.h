/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_cautions
#define H_cautions
int cautions(void);
#endif
