/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A terminal that a test looks at: what the program writes where a person would read it. */
#ifndef VEILSTOP_TESTS_TERMINAL_H
#define VEILSTOP_TESTS_TERMINAL_H

/* Runs a shell's line in the project's folder with one of its streams (1 or 2) on a terminal of its
 * own, the others nowhere, NO_COLOR unset. Gives all that the terminal got, to be freed; *status
 * the exit status. Fails the test where there is no terminal or the line is killed. */
char *terminal_run(const char *shell, int stream, int *status);

#endif
