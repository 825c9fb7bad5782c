/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. A file that does not exist yet is identified by its folder and its name. */
#include "cli/apart.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool is_same(const struct stat *a, const struct stat *b) {
    return a->st_dev == b->st_dev && a->st_ino == b->st_ino;
}

/* The folder that contains a path; false if it does not exist. */
static bool stat_folder(const char *path, struct stat *folder) {
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) + 1 : 0;
    char *name = length > 0 ? malloc(length + 1) : NULL;
    if (name) {
        memcpy(name, path, length);
        name[length] = '\0';
    }
    bool found = (length == 0 || name) && stat(length > 0 ? name : ".", folder) == 0;
    free(name);
    return found;
}

static const char *last_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Whether two paths name, or will name, the same file. */
static bool are_one(const char *a, const char *b) {
    struct stat at_a, at_b;
    bool a_is = stat(a, &at_a) == 0, b_is = stat(b, &at_b) == 0;
    if (a_is || b_is) {
        return a_is && b_is && is_same(&at_a, &at_b);
    }
    return strcmp(last_name(a), last_name(b)) == 0 && stat_folder(a, &at_a) &&
           stat_folder(b, &at_b) && is_same(&at_a, &at_b);
}

/* Whether standard output goes into the file at a path. */
static bool is_standard_output(const char *path) {
    struct stat out, there;
    return fstat(STDOUT_FILENO, &out) == 0 && S_ISREG(out.st_mode) && stat(path, &there) == 0 &&
           is_same(&out, &there);
}

static bool fail_output(const char *option, const char *than) {
    vs_ask_fail(VS_EXIT_USAGE, "--%s: must be another file than %s", option, than);
    return false;
}

static bool is_apart_from_inputs(const vs_ask_args *args, size_t option) {
    const char *name = args->command->option[option].name, *path = args->value[option];
    if (!path) {
        return true;
    }
    bool may_be_input = strcmp(name, "write") == 0;
    for (size_t k = 0; k < args->operand_count && !may_be_input; k++) {
        if (are_one(path, args->operand[k])) {
            vs_ask_fail(VS_EXIT_USAGE, "--%s: must be another file than %s, which is read", name,
                        args->operand[k]);
            return false;
        }
    }
    for (size_t k = 0; k < VS_ASK_OPTION_MAX && args->command->option[k].name; k++) {
        const char *form = args->command->option[k].value;
        bool is_input =
            args->value[k] && form && !vs_ask_is_output(args, k) && strstr(form, ".png");
        if (is_input && are_one(path, args->value[k])) {
            vs_ask_fail(VS_EXIT_USAGE, "--%s: must be another file than %s, which is read", name,
                        args->value[k]);
            return false;
        }
    }
    return true;
}

bool vs_cli_outputs_apart(const vs_ask_args *args) {
    const vs_ask_option *option = args->command->option;
    for (size_t k = 0; k < args->operand_count; k++) {
        if (is_standard_output(args->operand[k])) {
            vs_ask_fail(VS_EXIT_USAGE,
                        "standard output: must be another file than %s, which is "
                        "read",
                        args->operand[k]);
            return false;
        }
    }
    for (size_t i = 0; i < VS_ASK_OPTION_MAX && option[i].name; i++) {
        if (!vs_ask_is_output(args, i)) {
            continue;
        }
        if (is_standard_output(args->value[i])) {
            return fail_output(option[i].name, "standard output");
        }
        if (!is_apart_from_inputs(args, i)) {
            return false;
        }
        for (size_t k = 0; k < i; k++) {
            if (vs_ask_is_output(args, k) && are_one(args->value[k], args->value[i])) {
                vs_ask_fail(VS_EXIT_USAGE, "--%s: must be another file than --%s writes",
                            option[i].name, option[k].name);
                return false;
            }
        }
    }
    return true;
}

bool vs_cli_outputs_spare(const vs_ask_args *args, const vs_scene_file *file) {
    const vs_ask_option *option = args->command->option;
    for (size_t i = 0; i < VS_ASK_OPTION_MAX && option[i].name; i++) {
        if (vs_ask_is_output(args, i) && vs_scene_file_reads(file, args->value[i])) {
            return fail_output(option[i].name, "those that the scene reads");
        }
    }
    return true;
}
