/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_report
#define H_report
int report(void);
#endif
