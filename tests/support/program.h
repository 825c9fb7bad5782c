/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runs the program under test and compares its output: words exactly, numbers within a tolerance.
 */
#ifndef VEILSTOP_TESTS_PROGRAM_H
#define VEILSTOP_TESTS_PROGRAM_H

#include <stdbool.h>
#include <stddef.h>

/* What a run left. Both texts are NUL-terminated; free with program_free. */
typedef struct {
    int status; /* exit status; 128 + signal where it died */
    char *out, *err;
    size_t out_length;
} program_run_result;

/* Runs $VS_PROGRAM with the words (the last NULL) in the folder `directory` (NULL: the tests' root,
 * $VS_TESTS/..), with no standard input, NO_COLOR unset and LC_ALL=C. Fails the test where it
 * cannot be started. */
program_run_result program_run(const char *directory, const char *const *words);
/* The same through a shell, for redirections; the program is "$VS_PROGRAM". */
program_run_result program_run_shell(const char *directory, const char *command);
void program_free(program_run_result *run);
/* Runs it in the project's folder; fails the test unless it ends with that status and its outputs
 * hold the texts; NULL: any. */
void program_expect(const char *command, int status, const char *in_out, const char *in_err);
/* The same in the current folder, where its files are; what does not end with 0 says one line. */
void program_expect_here(const char *command, int status, const char *in_out, const char *in_err);

/* Fails the test where a line is wider than a report may be, or gives a verdict on safety. */
void program_check_lines(const char *text);
/* The number after a key in a text; fails the test where there is no such key. */
double program_number_after(const char *text, const char *key);
/* The three numbers after a key, from `text` on; fails where they are not there. */
void program_three_after(const char *text, const char *key, double out[3]);

/* Whether two texts agree: words byte by byte, numbers within relative and absolute; a number is
 * digits with an optional sign, fraction and exponent. On disagreement *line is where. */
bool program_text_agrees(const char *got, const char *want, double relative, double absolute,
                         size_t *line);

/* Runs every case of $VS_TESTS/cli/FOLDER: NAME.cmd holds one command line after "veilstop ",
 * NAME.out what it prints and exits with (last line "exit STATUS", then standard error after
 * "stderr:" if any). Fails the test for each that differs; with VS_RENEW=1 writes the .out files
 * anew. Returns the number of cases, which must be at least `least`. */
size_t program_check_goldens(const char *folder, size_t least, double relative, double absolute);

#endif
