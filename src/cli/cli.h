/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command line: a command is a data sheet (operands, options, summary) and a function.
 * Exit statuses are in one enum. */
#ifndef VEILSTOP_CLI_CLI_H
#define VEILSTOP_CLI_CLI_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/report/json.h"
#include "veilstop/report/text.h"

typedef enum {
    VS_EXIT_DONE = 0,
    VS_EXIT_UNMET = 1, /* done, but a want or a limit is not met */
    VS_EXIT_USAGE = 2,
    VS_EXIT_INPUT = 3,
    VS_EXIT_FILE = 4,
    VS_EXIT_CONVERGENCE = 5
} vs_exit;

#define VS_CLI_OPTION_MAX  18 /* options of a command: our choice */
#define VS_CLI_REPEATS_MAX 64 /* values of an option that repeats: our choice */
#define VS_CLI_OPERAND_MAX 4  /* words that are no options: our choice */

typedef struct {
    const char *name;  /* without the dashes */
    const char *value; /* placeholder of its value in the help; NULL for a flag */
    const char *help;  /* one line */
    bool repeats;      /* may be given several times */
} vs_cli_option;

typedef struct vs_cli_command vs_cli_command;

/* What stands on a command line, borrowed from argv. */
typedef struct {
    const vs_cli_command *command;
    const char *operand[VS_CLI_OPERAND_MAX];
    size_t operand_count;
    const char *value[VS_CLI_OPTION_MAX]; /* by the option's place; "" for a flag that is set; the
                                           * first of one that repeats */
    const char *shot[VS_CLI_REPEATS_MAX]; /* every --shot */
    size_t shot_count;
} vs_cli_args;

struct vs_cli_command {
    const char *name, *operands, *summary;
    size_t operand_min, operand_max;
    vs_cli_option option[VS_CLI_OPTION_MAX]; /* ends at the first without a name */
    const char *example[2];                  /* what stands after "veilstop " */
    bool many_shots;                         /* runs once for all --shot; else once for each */
    vs_exit (*run)(const vs_cli_args *args);
};

/* NULL where the option is absent. */
const char *vs_cli_value(const vs_cli_args *args, const char *option);
bool vs_cli_flag(const vs_cli_args *args, const char *option);
/* Reads an option's value as a number within low to high. Absent: *value stays, true.
 * False after a usage message. */
bool vs_cli_number(const vs_cli_args *args, const char *option, double low, double high,
                   double *value);

/* Appends the name of a file as it may be shown (vs_utf8_escape). */
void vs_cli_add_name(vs_text *out, const char *name);

/* "veilstop: ..." on standard error; returns `status` so that a command can end with it. */
vs_exit vs_cli_fail(vs_exit status, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Each fault of an input on a line of its own, "veilstop: FILE:WHERE: TEXT"; VS_EXIT_INPUT. */
vs_exit vs_cli_fail_faults(const char *file, const vs_faults *faults);
/* "PATH: must be a file that can be DONE (got: errno's text)"; VS_EXIT_FILE. done: read, written */
vs_exit vs_cli_fail_file(const char *path, const char *done);
/* The exit status that a failure of the core has, after a line that says it. */
vs_exit vs_cli_fail_status(vs_status status, const char *doing);

/* Writes the answer to standard output, whole; `status` if that worked, else VS_EXIT_FILE. */
vs_exit vs_cli_print(const vs_text *text, vs_exit status);
/* The same for an answer that may be JSON: a figure in it that is not a number is a bug, and stops
 * the program with a line that names its key. */
vs_exit vs_cli_print_answer(const vs_text *text, const vs_json *json, vs_exit status);
/* What main sets before a command runs: answers as tables for a spreadsheet; answers gathered in
 * `into` in place of standard output (NULL: no longer). */
void vs_cli_answer_as_csv(bool csv);
void vs_cli_collect(vs_text *into);

/* Whether standard output wants colour: a terminal, and NO_COLOR not set (no-color.org). */
bool vs_cli_colour(void);

/* Every command, in the order of the help. */
extern const vs_cli_command *const vs_cli_commands[];
extern const size_t vs_cli_command_count;

#endif
