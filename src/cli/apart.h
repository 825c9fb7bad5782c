/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Makes sure that no output file is also read, or written twice. */
#ifndef VEILSTOP_CLI_APART_H
#define VEILSTOP_CLI_APART_H

#include "ask/args.h"
#include "veilstop/scene/scene_file.h"

/* Compares the files named on the command line with each other and with standard output, by device
 * and inode; false after a usage message. --write may replace its own scene. */
bool vs_cli_outputs_apart(const vs_ask_args *args);

/* The same for the files that a scene reads. */
bool vs_cli_outputs_spare(const vs_ask_args *args, const vs_scene_file *file);

#endif
