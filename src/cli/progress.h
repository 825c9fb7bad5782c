/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shows on standard error, if that is a terminal, what a command is doing once it has taken over a
 * second.
 */
#ifndef VEILSTOP_CLI_PROGRESS_H
#define VEILSTOP_CLI_PROGRESS_H

#include <stddef.h>

/* Starts the clock. Without a terminal this and all functions below do nothing. */
void vs_cli_progress_begin(void);

/* What is being done, "choosing densities"; the text must stay valid. Clears the last share. */
void vs_cli_doing(const char *words);

/* How much of it is done; from any thread. */
void vs_cli_share_done(size_t done, size_t count);

/* Removes the line before anything else is written; nothing is drawn afterwards. */
void vs_cli_progress_end(void);

#endif
