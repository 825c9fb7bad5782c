/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_scene
#define H_scene
int scene(void);
#endif
