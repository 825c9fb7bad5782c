/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The commands that answer. */
#ifndef VEILSTOP_ASK_COMMANDS_COMMANDS_H
#define VEILSTOP_ASK_COMMANDS_COMMANDS_H

#include "ask/args.h"

/* Every command that answers about a scene or a fluid; NULL if there is none of that name. */
extern const vs_ask_command *const vs_ask_commands[];
extern const size_t vs_ask_command_count;
const vs_ask_command *vs_ask_find_command(const char *name);

#endif
