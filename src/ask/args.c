/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A question's words: its options and operands, and running it for several shots. */
#include "ask/args.h"

#include <stdio.h>
#include <string.h>

#include "veilstop/base/units.h"
#include "veilstop/scene/json.h"

const char *vs_ask_value(const vs_ask_args *args, const char *option) {
    const vs_ask_option *o = args->command->option;
    for (size_t i = 0; i < VS_ASK_OPTION_MAX && o[i].name; i++) {
        if (strcmp(o[i].name, option) == 0) {
            return args->value[i];
        }
    }
    return NULL;
}

bool vs_ask_flag(const vs_ask_args *args, const char *option) {
    bool csv = strcmp(option, "json") == 0 && vs_ask_value(args, "csv"); /* made from the JSON */
    return csv || vs_ask_value(args, option) != NULL;
}

bool vs_ask_number(const vs_ask_args *args, const char *option, double low, double high,
                   double *value) {
    const char *text = vs_ask_value(args, option);
    if (!text) {
        return true;
    }
    double number;
    size_t used = vs_number_parse(text, &number);
    if (used == 0 || text[used] || !(number >= low && number <= high)) {
        vs_ask_fail(VS_EXIT_USAGE, "--%s: must be a number from %g to %g (got %s)", option, low,
                    high, text);
        return false;
    }
    *value = number;
    return true;
}

/* The index of "--name" or "--name=value" among a command's options, or VS_ASK_OPTION_MAX. */
static size_t find_option(const vs_ask_command *command, const char *word, size_t length) {
    size_t i = 0;
    while (i < VS_ASK_OPTION_MAX && command->option[i].name &&
           !(strlen(command->option[i].name) == length &&
             strncmp(command->option[i].name, word, length) == 0)) {
        i++;
    }
    return i < VS_ASK_OPTION_MAX && command->option[i].name ? i : VS_ASK_OPTION_MAX;
}

static void fail_option(const vs_ask_command *command, const char *given, const char *word,
                        size_t length) {
    const char *names[VS_ASK_OPTION_MAX];
    char bare[64];
    size_t count = 0;
    while (count < VS_ASK_OPTION_MAX && command->option[count].name) {
        names[count] = command->option[count].name;
        count++;
    }
    snprintf(bare, sizeof bare, "%.*s", (int)(length < sizeof bare ? length : 0), word);
    const char *near = vs_json_nearest(bare, names, count);
    vs_ask_fail(VS_EXIT_USAGE, "%s: unknown option %s%s%s; try: veilstop %s --help", command->name,
                given, near ? "; did you mean --" : "", near ? near : "", command->name);
}

/* Adds a --shot; false after a message. */
static bool keep_shot(vs_ask_args *args, const char *name) {
    for (size_t i = 0; i < args->shot_count; i++) {
        if (strcmp(args->shot[i], name) == 0) {
            return true;
        }
    }
    if (args->shot_count == VS_ASK_REPEATS_MAX) {
        vs_ask_fail(VS_EXIT_USAGE, "%s: --shot: must be given at most %d times",
                    args->command->name, VS_ASK_REPEATS_MAX);
        return false;
    }
    args->shot[args->shot_count++] = name;
    return true;
}

/* Whether a file's name ends as another kind of file does than the option writes: "day.jpg" for
 * FILE.png. Other names, such as a pipe's, are the user's own. */
static bool is_other_kind(const char *form, const char *file) {
    static const char *const kind[] = {".png", ".apng", ".exr", ".jpg", ".jpeg",
                                       ".tif", ".tiff", ".pdf", ".html"};
    const char *end = strrchr(file, '.');
    bool known = false;
    for (size_t i = 0; end && i < sizeof kind / sizeof kind[0]; i++) {
        known = known || strcmp(end, kind[i]) == 0;
    }
    bool animated = known && strcmp(form, "FILE.png") == 0 && strcmp(end, ".apng") == 0;
    return strncmp(form, "FILE.", 5) == 0 && known && !animated && strcmp(end, form + 4) != 0;
}

/* Reads the option at *at, and its value; false after a message. */
static bool take_option(vs_ask_args *args, const char *const **at) {
    const char *name = args->command->name;
    const char *word = **at + 2;
    const char *equals = strchr(word, '=');
    size_t length = equals ? (size_t)(equals - word) : strlen(word);
    size_t place = find_option(args->command, word, length);
    if (place == VS_ASK_OPTION_MAX) {
        fail_option(args->command, **at, word, length);
        return false;
    }
    const vs_ask_option *option = &args->command->option[place];
    if (args->value[place] && !option->repeats) {
        vs_ask_fail(VS_EXIT_USAGE, "%s: --%s: must be given once", name, option->name);
        return false;
    }
    if (!option->value) {
        if (equals) {
            vs_ask_fail(VS_EXIT_USAGE, "%s: --%s: takes no value", name, option->name);
            return false;
        }
        args->value[place] = "";
        return true;
    }
    if (!equals && !(*at)[1]) {
        vs_ask_fail(VS_EXIT_USAGE, "%s: --%s: needs a value %s", name, option->name, option->value);
        return false;
    }
    const char *value = equals ? equals + 1 : *++*at;
    if (is_other_kind(option->value, value)) {
        vs_ask_fail(VS_EXIT_USAGE, "--%s: must be %s (got %s)", option->name, option->value, value);
        return false;
    }
    args->value[place] = args->value[place] ? args->value[place] : value;
    return !option->repeats || keep_shot(args, value);
}

static bool take_operand(vs_ask_args *args, const char *word) {
    if (args->operand_count == args->command->operand_max) {
        vs_ask_fail(VS_EXIT_USAGE, "%s: one word too many: %s", args->command->name, word);
        return false;
    }
    args->operand[args->operand_count++] = word;
    return true;
}

bool vs_ask_is_output(const vs_ask_args *args, size_t option) {
    const char *form = args->command->option[option].value;
    return args->value[option] && form && strncmp(form, "FILE", 4) == 0;
}

bool vs_ask_args_read(vs_ask_args *args, const char *const *word) {
    const vs_ask_command *command = args->command;
    bool options_end = false;
    for (; *word; word++) {
        if (!options_end && strcmp(*word, "--") == 0) {
            options_end = true;
            continue;
        }
        bool is_option = !options_end && strncmp(*word, "--", 2) == 0;
        if (!(is_option ? take_option(args, &word) : take_operand(args, *word))) {
            return false;
        }
    }
    if (args->operand_count < command->operand_min) {
        vs_ask_fail(VS_EXIT_USAGE, "%s: needs %s; try: veilstop %s --help", command->name,
                    command->operands, command->name);
        return false;
    }
    return true;
}

/* Appends the output of one shot's run to that of the others. */
static void join(vs_text *all, const vs_text *one, bool json, bool first) {
    size_t length = one->length;
    while (json && length > 0 && one->bytes[length - 1] == '\n') {
        length--;
    }
    vs_text_addf(all, "%s", first ? "" : json ? ", " : "\n");
    vs_text_add(all, one->bytes, length);
    all->failed = all->failed || one->failed;
}

/* Runs a command for one shot once for each --shot: texts one after another, JSON as {"command",
 * "answers": [..]}. The exit status is the highest. */
static vs_exit run_each_shot(const vs_ask_args *args) {
    vs_ask_context *context = vs_ask_context_here();
    bool json = vs_ask_flag(args, "json");
    size_t place = find_option(args->command, "shot", strlen("shot"));
    vs_exit worst = VS_EXIT_DONE;
    vs_text all, one;
    vs_json end = {0};
    vs_text_init(&all);
    vs_text_addf(&all, json ? "{\"command\": \"%s\", \"answers\": [" : "%.0s", args->command->name);
    for (size_t i = 0; i < args->shot_count && worst <= VS_EXIT_UNMET; i++) {
        vs_ask_args single = *args;
        single.value[place] = args->shot[i];
        single.shot[0] = args->shot[i];
        single.shot_count = 1;
        vs_text_init(&one);
        context->gathered = &one;
        vs_exit code = args->command->run(&single);
        context->gathered = NULL;
        join(&all, &one, json, i == 0);
        vs_text_free(&one);
        worst = code > worst ? code : worst;
    }
    if (worst <= VS_EXIT_UNMET) {
        vs_text_addf(&all, "%s", json ? "]}\n" : "");
        worst = vs_ask_print_answer(&all, &end, worst);
    }
    vs_text_free(&all);
    return worst;
}

/* Refuses output files with several shots: they are for one. */
static vs_exit refuse_files(const vs_ask_args *args) {
    for (size_t i = 0; i < VS_ASK_OPTION_MAX && args->command->option[i].name; i++) {
        if (vs_ask_is_output(args, i)) {
            return vs_ask_fail(VS_EXIT_USAGE, "--%s: needs one shot: give --shot once",
                               args->command->option[i].name);
        }
    }
    return VS_EXIT_DONE;
}

vs_exit vs_ask_args_run(const vs_ask_args *args) {
    bool csv = vs_ask_value(args, "csv") != NULL;
    if (csv && vs_ask_value(args, "json")) {
        return vs_ask_fail(VS_EXIT_USAGE, "%s: --csv: must not stand beside --json",
                           args->command->name);
    }
    if (args->shot_count > 1 && !args->command->many_shots) {
        vs_exit code = refuse_files(args);
        return code == VS_EXIT_DONE ? run_each_shot(args) : code;
    }
    return args->command->run(args);
}
