/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_camera
#define H_camera
int camera(void);
#endif
