/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_reading
#define H_reading
int reading(void);
#endif
