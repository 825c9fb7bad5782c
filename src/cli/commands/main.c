/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop COMMAND ...: finds the command, reads its options, runs it. */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/apart.h"
#include "cli/cli.h"
#include "cli/progress.h"
#include "veilstop/base/numerics.h"
#include "veilstop/scene/json.h"

static const char *const caution =
    "Haze is breathed and sets off alarms. Defer to local code, the venue and licensed practice.\n";

static void add_commands(vs_text *out) {
    for (size_t i = 0; i < vs_cli_command_count; i++) {
        vs_text_addf(out, "  %-9s %s\n", vs_cli_commands[i]->name, vs_cli_commands[i]->summary);
    }
}

static vs_exit print_help(void) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out,
                 "veilstop %s: what haze does to a shot, calculated\n\n"
                 "usage: veilstop COMMAND ... ; veilstop help COMMAND tells its options\n\n",
                 VS_VERSION);
    add_commands(&out);
    vs_text_addf(&out, "\n%s", caution);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit print_command_help(const vs_cli_command *command) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "usage: veilstop %s %s [options]\n\n%s\n\n", command->name,
                 command->operands, command->summary);
    for (size_t i = 0; i < VS_CLI_OPTION_MAX && command->option[i].name; i++) {
        const vs_cli_option *o = &command->option[i];
        char form[64];
        snprintf(form, sizeof form, "--%s%s%s", o->name, o->value ? " " : "",
                 o->value ? o->value : "");
        vs_text_addf(&out, "  %-24s %s\n", form, o->help);
    }
    vs_text_addf(&out, "  %-24s %s\n\nexamples:\n", "--help", "this");
    for (size_t i = 0; i < sizeof command->example / sizeof command->example[0]; i++) {
        vs_text_addf(&out, "  veilstop %s\n", command->example[i]);
    }
    vs_text_addf(&out, "\n%s", caution);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

/* The place of "--name" or "--name=value" among a command's options, or VS_CLI_OPTION_MAX. */
static size_t find_option(const vs_cli_command *command, const char *word, size_t length) {
    size_t i = 0;
    while (i < VS_CLI_OPTION_MAX && command->option[i].name &&
           !(strlen(command->option[i].name) == length &&
             strncmp(command->option[i].name, word, length) == 0)) {
        i++;
    }
    return i < VS_CLI_OPTION_MAX && command->option[i].name ? i : VS_CLI_OPTION_MAX;
}

static void fail_option(const vs_cli_command *command, const char *given, const char *word,
                        size_t length) {
    const char *names[VS_CLI_OPTION_MAX];
    char bare[64];
    size_t count = 0;
    while (count < VS_CLI_OPTION_MAX && command->option[count].name) {
        names[count] = command->option[count].name;
        count++;
    }
    snprintf(bare, sizeof bare, "%.*s", (int)(length < sizeof bare ? length : 0), word);
    const char *near = vs_json_nearest(bare, names, count);
    vs_cli_fail(VS_EXIT_USAGE, "%s: unknown option %s%s%s; try: veilstop %s --help", command->name,
                given, near ? "; did you mean --" : "", near ? near : "", command->name);
}

/* One more --shot; false after a message. */
static bool keep_shot(vs_cli_args *args, const char *name) {
    for (size_t i = 0; i < args->shot_count; i++) {
        if (strcmp(args->shot[i], name) == 0) {
            return true;
        }
    }
    if (args->shot_count == VS_CLI_REPEATS_MAX) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: --shot: must be given at most %d times",
                    args->command->name, VS_CLI_REPEATS_MAX);
        return false;
    }
    args->shot[args->shot_count++] = name;
    return true;
}

/* Takes the option at argv[*at]; false after a message. */
static bool take_option(vs_cli_args *args, int argc, char **argv, int *at) {
    const char *name = args->command->name;
    const char *word = argv[*at] + 2;
    const char *equals = strchr(word, '=');
    size_t length = equals ? (size_t)(equals - word) : strlen(word);
    size_t place = find_option(args->command, word, length);
    if (place == VS_CLI_OPTION_MAX) {
        fail_option(args->command, argv[*at], word, length);
        return false;
    }
    const vs_cli_option *option = &args->command->option[place];
    if (args->value[place] && !option->repeats) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: must be given once", name, option->name);
        return false;
    }
    if (!option->value) {
        if (equals) {
            vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: takes no value", name, option->name);
            return false;
        }
        args->value[place] = "";
        return true;
    }
    if (!equals && *at + 1 >= argc) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: needs a value %s", name, option->name, option->value);
        return false;
    }
    const char *value = equals ? equals + 1 : argv[++*at];
    args->value[place] = args->value[place] ? args->value[place] : value;
    return !option->repeats || keep_shot(args, value);
}

static bool take_operand(vs_cli_args *args, const char *word) {
    if (args->operand_count == args->command->operand_max) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: one word too many: %s", args->command->name, word);
        return false;
    }
    args->operand[args->operand_count++] = word;
    return true;
}

static vs_exit print_version(void) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "veilstop %s\n", VS_VERSION);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

/* What one shot's run gave, joined to the others'. */
static void join(vs_text *all, const vs_text *one, bool json, bool first) {
    size_t length = one->length;
    while (json && length > 0 && one->bytes[length - 1] == '\n') {
        length--;
    }
    vs_text_addf(all, "%s", first ? "" : json ? ", " : "\n");
    vs_text_add(all, one->bytes, length);
    all->failed = all->failed || one->failed;
}

/* A command that answers for one shot, once for each --shot: texts one after the other, JSON as
 * {"command", "answers": [..]}. The exit status is the gravest. */
static vs_exit run_each_shot(const vs_cli_args *args) {
    bool json = vs_cli_flag(args, "json");
    size_t place = find_option(args->command, "shot", strlen("shot"));
    vs_exit worst = VS_EXIT_DONE;
    vs_text all, one;
    vs_json end = {0};
    vs_text_init(&all);
    vs_text_addf(&all, json ? "{\"command\": \"%s\", \"answers\": [" : "%.0s", args->command->name);
    for (size_t i = 0; i < args->shot_count && worst <= VS_EXIT_UNMET; i++) {
        vs_cli_args single = *args;
        single.value[place] = args->shot[i];
        single.shot[0] = args->shot[i];
        single.shot_count = 1;
        vs_text_init(&one);
        vs_cli_collect(&one);
        vs_exit code = args->command->run(&single);
        vs_cli_collect(NULL);
        join(&all, &one, json, i == 0);
        vs_text_free(&one);
        worst = code > worst ? code : worst;
    }
    if (worst <= VS_EXIT_UNMET) {
        vs_text_addf(&all, "%s", json ? "]}\n" : "");
        worst = vs_cli_print_answer(&all, &end, worst);
    }
    vs_text_free(&all);
    return worst;
}

/* Files that an answer writes are those of one shot. */
static vs_exit refuse_files(const vs_cli_args *args) {
    for (size_t i = 0; i < VS_CLI_OPTION_MAX && args->command->option[i].name; i++) {
        if (vs_cli_is_output(args, i)) {
            return vs_cli_fail(VS_EXIT_USAGE, "--%s: needs one shot: give --shot once",
                               args->command->option[i].name);
        }
    }
    return VS_EXIT_DONE;
}

static vs_exit answer(const vs_cli_args *args) {
    bool csv = vs_cli_flag(args, "csv");
    if (csv && vs_cli_flag(args, "json")) {
        return vs_cli_fail(VS_EXIT_USAGE, "%s: --csv: must not stand beside --json",
                           args->command->name);
    }
    vs_cli_answer_as_csv(csv);
    if (args->shot_count > 1 && !args->command->many_shots) {
        vs_exit code = refuse_files(args);
        return code == VS_EXIT_DONE ? run_each_shot(args) : code;
    }
    return args->command->run(args);
}

static vs_exit run_command(const vs_cli_command *command, int argc, char **argv) {
    vs_cli_args args = {.command = command};
    bool options_end = false;
    for (int i = 2; i < argc; i++) {
        if (!options_end && (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)) {
            return print_command_help(command);
        }
        if (!options_end && strcmp(argv[i], "--version") == 0) {
            return print_version();
        }
        if (!options_end && strcmp(argv[i], "--") == 0) {
            options_end = true;
            continue;
        }
        bool is_option = !options_end && strncmp(argv[i], "--", 2) == 0;
        if (!(is_option ? take_option(&args, argc, argv, &i) : take_operand(&args, argv[i]))) {
            return VS_EXIT_USAGE;
        }
    }
    if (args.operand_count < command->operand_min) {
        return vs_cli_fail(VS_EXIT_USAGE, "%s: needs %s; try: veilstop %s --help", command->name,
                           command->operands, command->name);
    }
    if (!vs_cli_outputs_apart(&args)) {
        return VS_EXIT_USAGE;
    }
    vs_cli_progress_begin();
    vs_exit code = answer(&args);
    vs_cli_progress_end();
    return code;
}

static const vs_cli_command *find_command(const char *name) {
    for (size_t i = 0; i < vs_cli_command_count; i++) {
        if (strcmp(name, vs_cli_commands[i]->name) == 0) {
            return vs_cli_commands[i];
        }
    }
    return NULL;
}

static vs_exit fail_command(const char *name) {
    const char *names[VS_CLI_OPTION_MAX * 2];
    size_t count = 0;
    while (count < vs_cli_command_count && count < sizeof names / sizeof names[0]) {
        names[count] = vs_cli_commands[count]->name;
        count++;
    }
    const char *near = vs_json_nearest(name, names, count);
    return vs_cli_fail(VS_EXIT_USAGE, "unknown command %s%s%s; try: veilstop --help", name,
                       near ? "; did you mean " : "", near ? near : "");
}

/* veilstop help [COMMAND] */
static vs_exit help(int argc, char **argv) {
    if (argc > 3) {
        return vs_cli_fail(VS_EXIT_USAGE, "help: one word too many: %s", argv[3]);
    }
    if (argc == 2) {
        return print_help();
    }
    const vs_cli_command *command = find_command(argv[2]);
    return command ? print_command_help(command) : fail_command(argv[2]);
}

int main(int argc, char **argv) {
    vs_numerics_handler_off();
    signal(SIGXFSZ, SIG_IGN); /* a file that grows too long is a write that fails, told as such */
    if (argc < 2) {
        return vs_cli_fail(VS_EXIT_USAGE, "needs a command; try: veilstop --help");
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        return print_help();
    }
    if (strcmp(argv[1], "help") == 0) {
        return help(argc, argv);
    }
    if (strcmp(argv[1], "--version") == 0) {
        return print_version();
    }
    const vs_cli_command *command = find_command(argv[1]);
    return command ? run_command(command, argc, argv) : fail_command(argv[1]);
}
