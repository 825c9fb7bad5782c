/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What every command shares: its options, its failures, its output. */
#include "cli/cli.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/csv.h"
#include "cli/progress.h"
#include "veilstop/base/units.h"
#include "veilstop/base/utf8.h"
#include "veilstop/scene/file.h"

/* Where answers go, and as what. */
static struct {
    bool csv;
    vs_text *gathered;
} output;

void vs_cli_answer_as_csv(bool csv) {
    output.csv = csv;
}

void vs_cli_collect(vs_text *into) {
    output.gathered = into;
}

const char *vs_cli_value(const vs_cli_args *args, const char *option) {
    const vs_cli_option *o = args->command->option;
    for (size_t i = 0; i < VS_CLI_OPTION_MAX && o[i].name; i++) {
        if (strcmp(o[i].name, option) == 0) {
            return args->value[i];
        }
    }
    return NULL;
}

bool vs_cli_flag(const vs_cli_args *args, const char *option) {
    bool csv = output.csv && strcmp(option, "json") == 0; /* made from it */
    return csv || vs_cli_value(args, option) != NULL;
}

bool vs_cli_number(const vs_cli_args *args, const char *option, double low, double high,
                   double *value) {
    const char *text = vs_cli_value(args, option);
    if (!text) {
        return true;
    }
    double number;
    size_t used = vs_number_parse(text, &number);
    if (used == 0 || text[used] || !(number >= low && number <= high)) {
        vs_cli_fail(VS_EXIT_USAGE, "--%s: must be a number from %g to %g (got %s)", option, low,
                    high, text);
        return false;
    }
    *value = number;
    return true;
}

/* Names come from files and command lines, and may hold anything. Without memory they lose their
 * end, not the message. */
static void print_escaped(const char *text) {
    char few[512];
    size_t size = vs_utf8_escape(text, NULL, 0) + 1;
    char *line = size <= sizeof few ? few : malloc(size);
    if (line) {
        vs_utf8_escape(text, line, size);
    } else {
        vs_utf8_escape(text, line = few, sizeof few);
    }
    vs_cli_progress_end();
    fprintf(stderr, "veilstop: %s\n", line);
    if (line != few) {
        free(line);
    }
}

vs_exit vs_cli_fail(vs_exit status, const char *format, ...) {
    char few[512];
    va_list arguments, again;
    va_start(arguments, format);
    va_copy(again, arguments);
    int length = vsnprintf(few, sizeof few, format, arguments);
    char *text = length < (int)sizeof few ? few : malloc((size_t)length + 1);
    if (text && text != few) {
        vsnprintf(text, (size_t)length + 1, format, again);
    }
    print_escaped(text ? text : few);
    if (text != few) {
        free(text);
    }
    va_end(again);
    va_end(arguments);
    return status;
}

void vs_cli_add_name(vs_text *out, const char *name) {
    size_t size = vs_utf8_escape(name, NULL, 0) + 1;
    char *shown = malloc(size);
    if (shown) {
        vs_utf8_escape(name, shown, size);
        vs_text_add(out, shown, size - 1);
    }
    out->failed = out->failed || !shown;
    free(shown);
}

vs_exit vs_cli_fail_faults(const char *file, const vs_faults *faults) {
    for (size_t i = 0; i < faults->count; i++) {
        const vs_fault *fault = &faults->item[i];
        vs_cli_fail(VS_EXIT_INPUT, "%s:%s%s%s", file, fault->where, fault->where[0] ? ": " : " ",
                    fault->text);
    }
    if (faults->more > 0) {
        vs_cli_fail(VS_EXIT_INPUT, "%s: and %zu more", file, faults->more);
    }
    return VS_EXIT_INPUT;
}

vs_exit vs_cli_fail_status(vs_status status, const char *doing) {
    vs_exit code = status == VS_ERR_CONVERGENCE ? VS_EXIT_CONVERGENCE
                   : status == VS_ERR_FILE      ? VS_EXIT_FILE
                                                : VS_EXIT_INPUT;
    return vs_cli_fail(code, "%s: %s", doing, vs_status_text(status));
}

vs_exit vs_cli_fail_file(const char *path, const char *done) {
    return vs_cli_fail(VS_EXIT_FILE, "%s: must be a file that can be %s (got: %s)", path, done,
                       vs_file_reason(path, errno));
}

vs_exit vs_cli_print(const vs_text *text, vs_exit status) {
    if (text->failed) {
        return vs_cli_fail(VS_EXIT_FILE, "standard output: out of memory");
    }
    if (output.gathered) {
        vs_text_add(output.gathered, text->bytes, text->length);
        return status;
    }
    vs_cli_progress_end();
    if (text->length > 0) {
        fwrite(text->bytes, 1, text->length, stdout);
    }
    if (fflush(stdout) != 0 || ferror(stdout)) {
        return vs_cli_fail(VS_EXIT_FILE, "standard output: %s", strerror(errno));
    }
    return status;
}

static vs_exit print_csv(const vs_text *json, vs_exit status) {
    vs_text csv;
    vs_text_init(&csv);
    vs_status made = json->failed ? VS_ERR_MEMORY : vs_cli_csv(json->bytes, &csv);
    vs_exit code = made == VS_OK ? vs_cli_print(&csv, status) : vs_cli_fail_status(made, "--csv");
    vs_text_free(&csv);
    return code;
}

vs_exit vs_cli_print_answer(const vs_text *text, const vs_json *json, vs_exit status) {
    if (json->broken[0]) {
        return vs_cli_fail(VS_EXIT_CONVERGENCE,
                           "a bug: the figure \"%s\" came out as no number; please report it",
                           json->broken);
    }
    return output.csv && !output.gathered ? print_csv(text, status) : vs_cli_print(text, status);
}

bool vs_cli_colour(void) {
    const char *no_color = getenv("NO_COLOR");
    return !(no_color && *no_color) && isatty(STDOUT_FILENO);
}
