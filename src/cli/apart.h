/* SPDX-License-Identifier: GPL-3.0-or-later */
/* No file that is written is one that is read, or another that is written. */
#ifndef VEILSTOP_CLI_APART_H
#define VEILSTOP_CLI_APART_H

#include "ask/args.h"
#include "veilstop/scene/scene_file.h"

/* Holds the files that the command line names against one another and standard output, by device
 * and inode; false after a usage message. --write may give a scene back in its place. */
bool vs_cli_outputs_apart(const vs_ask_args *args);

/* The same for the files that a scene takes figures from. */
bool vs_cli_outputs_spare(const vs_ask_args *args, const vs_scene_file *file);

#endif
