/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_cli
#define H_cli
int cli(void);
#endif
