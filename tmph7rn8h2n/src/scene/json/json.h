/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_json
#define H_json
int json(void);
#endif
