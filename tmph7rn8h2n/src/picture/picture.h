/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_picture
#define H_picture
int picture(void);
#endif
