/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_geometry
#define H_geometry
int geometry(void);
#endif
