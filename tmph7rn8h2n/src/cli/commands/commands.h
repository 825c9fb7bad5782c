/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef H_commands
#define H_commands
int commands(void);
#endif
