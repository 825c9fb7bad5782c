/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command line's side of a question: what it lends to it, and printing the answer. */
#ifndef VEILSTOP_CLI_CLI_H
#define VEILSTOP_CLI_CLI_H

#include "ask/args.h"

/* Begins a question on standard output: with the system's files, threads and a bar. */
void vs_cli_begin(vs_ask_context *context);

/* Prints the answer, as tables for a spreadsheet if csv, and the messages; ends the question.
 * Returns `code`, or VS_EXIT_FILE if standard output fails. */
vs_exit vs_cli_end(vs_ask_context *context, bool csv, vs_exit code);

/* Writes a file whole; a message where that fails. */
vs_exit vs_cli_write(const char *path, const void *bytes, size_t length);
/* The same with bytes that were allocated, where they could be made; frees them. */
vs_exit vs_cli_write_made(const char *path, vs_status made, unsigned char *bytes, size_t length);

/* Every command, in the order of the help. */
extern const vs_ask_command *const vs_cli_commands[];
extern const size_t vs_cli_command_count;

#endif
