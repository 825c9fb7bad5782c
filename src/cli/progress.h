/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Says on standard error, on a terminal only, what goes on once a command has taken over a second.
 */
#ifndef VEILSTOP_CLI_PROGRESS_H
#define VEILSTOP_CLI_PROGRESS_H

#include <stddef.h>

/* From here on time counts. Without a terminal this and all below do nothing. */
void vs_cli_progress_begin(void);

/* What is done now, "choosing densities"; a text that stays. Takes back the last share. */
void vs_cli_doing(const char *words);

/* How much of it is done; from any thread. */
void vs_cli_share_done(size_t done, size_t count);

/* Takes the line away before anything else is written; nothing is drawn after. */
void vs_cli_progress_end(void);

#endif
