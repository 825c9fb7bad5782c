/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_grade
#define H_grade
int grade(void);
#endif
