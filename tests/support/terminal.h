/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pseudo-terminal: what the program writes where a person would read it. */
#ifndef VEILSTOP_TESTS_TERMINAL_H
#define VEILSTOP_TESTS_TERMINAL_H

/* Runs a shell command in the project's folder with one of its streams (1 or 2) on a terminal, the
 * others discarded, NO_COLOR unset. Returns all that the terminal received, to be freed; *status is
 * the exit status. Fails the test where there is no terminal or the line is killed. */
char *terminal_run(const char *shell, int stream, int *status);

#endif
