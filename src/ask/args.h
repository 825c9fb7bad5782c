/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A question in words: a command is a description (operands, options, summary) and a function. */
#ifndef VEILSTOP_ASK_ARGS_H
#define VEILSTOP_ASK_ARGS_H

#include <stdbool.h>
#include <stddef.h>

#include "ask/context.h"

#define VS_ASK_OPTION_MAX  26 /* options of a command: our choice */
#define VS_ASK_REPEATS_MAX 64 /* values of an option that repeats: our choice */
#define VS_ASK_OPERAND_MAX 4  /* words that are not options: our choice */

typedef struct {
    const char *name;  /* without the dashes */
    const char *value; /* placeholder of its value in the help; NULL for a flag */
    const char *help;  /* one line */
    bool repeats;      /* may be given several times */
} vs_ask_option;

typedef struct vs_ask_command vs_ask_command;

/* The parsed command line, borrowed from the words. */
typedef struct vs_ask_args {
    const vs_ask_command *command;
    const char *operand[VS_ASK_OPERAND_MAX];
    size_t operand_count;
    const char *value[VS_ASK_OPTION_MAX]; /* by index of the option; "" for a flag that is set; the
                                           * first of one that repeats */
    const char *shot[VS_ASK_REPEATS_MAX]; /* every --shot */
    size_t shot_count;
} vs_ask_args;

struct vs_ask_command {
    const char *name, *operands, *summary;
    size_t operand_min, operand_max;
    vs_ask_option option[VS_ASK_OPTION_MAX]; /* ends at the first without a name */
    const char *example[2];                  /* the words after "veilstop " */
    bool many_shots;                         /* runs once for all --shot; otherwise once for each */
    vs_exit (*run)(const vs_ask_args *args);
};

/* NULL if the option is absent. */
const char *vs_ask_value(const vs_ask_args *args, const char *option);
bool vs_ask_flag(const vs_ask_args *args, const char *option);
/* Reads an option's value as a number from low to high. If absent, *value is unchanged and true is
 * returned.
 * False after a usage message. */
bool vs_ask_number(const vs_ask_args *args, const char *option, double low, double high,
                   double *value);

/* Parses a command line of words, with NULL after the last. False after a usage message. Options
 * begin with two dashes, "--" ends them. */
bool vs_ask_args_read(vs_ask_args *args, const char *const *word);

/* Runs a command: once, or once for each --shot if it answers for one shot. */
vs_exit vs_ask_args_run(const vs_ask_args *args);

/* Whether an option is given and names a file to write. */
bool vs_ask_is_output(const vs_ask_args *args, size_t option);

#endif
